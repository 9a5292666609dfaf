"""Watching the document's rules over one sequence of entries (SEMANTICS.md §3, 'Two knees': one knee, the left, the right)."""

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

from .atom import Atom
from .kinds import defaults
from .phase import Cell, Phase
from .program import Program, StatusOf
from .shape import Shape

if TYPE_CHECKING:
    from .entry import Entry

ONLY, LEFT, RIGHT = range(3)
_OTHER_KNEE = {LEFT: "right", RIGHT: "left"}
Verdicts = list[tuple[int, int]]  # rule number, bits of the verdict (never zero)


class View:
    """An entry's shape as one sequence sees it: what each rule must do about it. Rules that it cannot touch are left out.

    `tabled`: rule, known cells of this letter, phase, letter. `others`: rule, program, letter, atoms that differ from entry
    to entry with their bits.
    """

    __slots__ = ("fields", "others", "tabled")

    def __init__(self, fields: dict[str, Any]) -> None:
        self.fields = fields
        self.tabled: list[tuple[int, dict[int, Cell], Phase, int]] = []
        self.others: list[tuple[int, Program, int, list[tuple[int, Atom]]]] = []


class Watch:
    """The rules of a document, compiled, and the views of all shapes."""

    def __init__(self, programs: list[Program], per_knee: Mapping[str, bool]) -> None:
        self.programs = programs
        self._per_knee = per_knee
        self._atoms: dict[str, Atom] = {}
        self._names: list[list[str]] = []
        for program in programs:
            own = [program.nodes[number].formula for number in program.atoms]
            self._names.append([repr(atom) for atom in own])
            self._atoms.update((repr(atom), atom) for atom in own if isinstance(atom, Atom))

    def first_memory(self) -> list[Any]:
        """The memories of all rules before the first entry."""
        return [program.first_memory() for program in self.programs]

    def view(self, shape: Shape, knee: int) -> View | None:
        """The shape in a sequence; None where it does not stand in it."""
        fields = self._read(shape.fields, knee)
        if fields is None:
            return None
        view = View(fields)
        values = {name: self._closed_value(atom, fields, shape) for name, atom in self._atoms.items()}
        for number, (program, names) in enumerate(zip(self.programs, self._names, strict=True)):
            asked = tuple(values[name] for name in names)
            if not program.matters(asked):
                continue
            letter = sum(1 << bit for bit, value in enumerate(asked) if value)
            differing = [(bit, self._atoms[name]) for bit, name in enumerate(names) if asked[bit] is None]
            if program.pure and not differing:
                phase = program.phases[0]
                view.tabled.append((number, phase.row(letter), phase, letter))
            else:
                view.others.append((number, program, letter, differing))
        return view

    def _read(self, fields: dict[str, Any], knee: int) -> dict[str, Any] | None:
        """The fields of an entry as a sequence reads them (SEMANTICS.md §3, 'Two knees')."""
        whole = {**defaults(fields["kind"]), **fields}
        if knee == ONLY:
            return whole
        if fields.get("knee") is not None:
            return None if fields["knee"] == _OTHER_KNEE[knee] else whole
        if fields["kind"] == "mode_checked" and fields["ok"]:
            return {name: value for name, value in whole.items() if name != "ok"} | {"kind": "mode_set"}
        if fields["kind"] == "check" and self._per_knee[fields["name"]] and False not in fields["steps"].values():
            return None
        return whole

    def _closed_value(self, atom: Atom, fields: dict[str, Any], shape: Shape) -> bool | None:
        """The value of an atom for all entries of a shape; None where it differs from entry to entry."""
        if atom.closed:
            return atom.holds(fields, shape.tags)
        return None if atom.closed_part.holds(fields, shape.tags) else False


def watch(memory: list[Any], view: View, entry: "Entry", status_of: StatusOf) -> Verdicts:
    """Move the memories of a sequence past an entry; the verdicts that are not empty."""
    found: Verdicts = []
    for number, row, phase, letter in view.tabled:
        state = memory[number]
        cell = row.get(state)
        if cell is None:
            cell = phase.fill(row, state, letter)
        memory[number] = cell[0]
        if cell[1]:
            found.append((number, cell[1]))
    if view.others:
        found += _others(memory, view, entry, status_of, keep=True)
    return found


def foresee(memory: list[Any], view: View, entry: "Entry", status_of: StatusOf) -> Verdicts:
    """The verdicts that `watch` would give, with the memories left as they are."""
    found = [(number, phase.step(memory[number], letter)[1]) for number, _, phase, letter in view.tabled]
    return [one for one in found if one[1]] + _others(memory, view, entry, status_of, keep=False)


def _others(memory: list[Any], view: View, entry: "Entry", status_of: StatusOf, *, keep: bool) -> Verdicts:
    found: Verdicts = []
    for number, program, letter, differing in view.others:
        if differing:
            letter |= _differing(differing, view, entry)
        if not program.pure:
            verdict = program.run(memory[number], letter, entry, status_of, keep=keep)
        else:
            state, verdict = program.phases[0].step(memory[number], letter)
            if keep:
                memory[number] = state
        if verdict:
            found.append((number, verdict))
    return found


def _differing(differing: list[tuple[int, Atom]], view: View, entry: "Entry") -> int:
    """The bits of the atoms that ask for more than the shape of the entry."""
    whole = entry.content()
    if whole["kind"] != view.fields["kind"]:  # a check of the mode that is read as a setting of it
        whole["kind"] = view.fields["kind"]
        del whole["ok"]
    return sum(1 << bit for bit, atom in differing if atom.holds(whole, entry.shape.tags))
