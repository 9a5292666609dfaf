"""Names for the demo's people. The surnames are made up, syllable by syllable, for this project."""

import random

_GIVEN = """
    Ines Nadia Corin Tamsin Bertil Osric Wilhelmina Sunniva Petra Ottoline Hamid Aurel Halvard Maro Yusra Tomasz Elspeth
    Idris Linnea Kwame Saoirse Bruno Amparo Viktor Meena Rhys Zofia Anselm Chidi Greta Noor Piotr Solveig Dmitri Abena
    Casimir Leocadia Farid Ingrid Mateo Oona Ravi Theda Emeka Birgit Luka Sabine Arjun Maeve Stellan
"""
_BEGINS = "Vart Ferr Oyell Quay Dask Kettle Larks Brindle Ellings Mistle Pryd Wexen Tamber Orl Sund"
_ENDS = "holm owe grove edge mor win combe sedge fold quill moor par wick den thorpe"
GIVEN, SURNAME_BEGINS, SURNAME_ENDS = _GIVEN.split(), _BEGINS.split(), _ENDS.split()


def made_up_name(chance: random.Random, taken: set[str]) -> tuple[str, str]:
    """A given name and a surname that nobody in the demo has yet."""
    surnames = {name.split()[-1] for name in taken}
    while True:
        given = chance.choice(GIVEN)
        surname = chance.choice(SURNAME_BEGINS) + chance.choice(SURNAME_ENDS)
        if surname not in surnames:
            taken.add(f"{given} {surname}")
            return given, surname
