"""The terms of the trade are said in one way: where the English text has a term, the Spanish one has the glossary's."""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import NamedTuple

import pytest
from babel.messages.catalog import Catalog

from clinic.language.catalogue import work
from clinic.run.places import ROOT

GLOSSARY = ROOT / "clinic" / "locale" / "GLOSSARY.md"
# Texts that rightly do without the term, and why.
ELSEWISE = {
    "{field}: must replace rungs, proven or both of them": "names of the fields of a document",
    "What falls back on what is this clinic’s protocol, a default; it defers to local policy and licensed practice.": (
        "nobody falls: a skill goes back"
    ),
}


class Term(NamedTuple):
    """A row of the table."""

    english: str
    spanish: str
    stems: tuple[str, ...]
    source: str

    def stands_in(self, english: str) -> bool:
        """Whether the text has the term as a word or in the plural."""
        return re.search(rf"(?<![\w-]){re.escape(self.english)}(?:s|es)?(?![\w-])", english, re.I) is not None

    def is_said_in(self, spanish: str) -> bool:
        """Whether one of the stems is in the translation."""
        return any(stem in spanish.casefold() for stem in self.stems)


def terms() -> list[Term]:
    """The table, the longest terms first: 'free-swing mode' before 'mode'."""
    rows = [
        re.split(r"(?<!\\)\|", line.strip().strip("|")) for line in GLOSSARY.read_text().splitlines() if line[:1] == "|"
    ]
    cells = [[cell.strip().replace("\\|", "|") for cell in row] for row in rows[2:]]
    return [Term(row[0], row[1], tuple(row[2].casefold().split("|")), row[3]) for row in cells]


def wrong(catalog: Catalog, glossary: list[Term]) -> Iterator[str]:
    """Each text that has a term and not its translation."""
    for one in catalog:
        if not one.id or not one.string or one.fuzzy:
            continue
        english = one.id if isinstance(one.id, str) else one.id[-1]
        spanish = one.string if isinstance(one.string, str) else one.string[-1]
        plain = re.sub(
            r"%\(\w+\)s|\{\w*\}|`[^`]*`|<code>.*?</code>", "", english
        )  # names of fields and places are no words
        for term in glossary:
            if english not in ELSEWISE and spanish and term.stands_in(plain) and not term.is_said_in(spanish):
                yield f"{term.english} → {term.spanish}: {english!r} is {spanish!r}"


def test_every_term_says_where_it_comes_from() -> None:
    found = terms()
    assert len(found) > 25
    assert [term.english for term in found if not term.source or not term.spanish or not all(term.stems)] == []
    assert all(term.is_said_in(term.spanish) for term in found)


@pytest.mark.parametrize("domain", work.DOMAINS)
@pytest.mark.parametrize("app", work.APPS)
def test_the_catalogues_use_the_terms(app: str, domain: str) -> None:
    assert list(wrong(work.catalogs(ROOT, "es", domain)[app], terms())) == []


def test_another_word_for_a_term_is_found() -> None:
    catalog = Catalog(locale="es")
    catalog.add("The socket presses.", "El casquillo aprieta.")
    catalog.add("Two sockets", "Dos encajes")
    assert [one.split(":")[0] for one in wrong(catalog, terms())] == ["socket → encaje"]
