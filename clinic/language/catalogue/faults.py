"""What is wrong with a catalogue: nothing of it may reach a page."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterable, Iterator

from babel.messages.catalog import Catalog, Message

from clinic.language.catalogue.kept import Key, key_of

# {name}, %(name)s, %s, and the marks of a page inside a text
_PLACES = re.compile(r"\{\w*(?:[.\[!:][^{}]*)?\}|%\(\w+\)[a-z]|%[sd]|</?[a-z][^>]*>")


def faults_of(catalog: Catalog, name: str) -> Iterator[str]:
    """Each text that is missing, fuzzy, obsolete, or whose places do not agree with the English ones."""
    for one in catalog:
        if not one.id:
            continue
        forms = [one.string] if isinstance(one.string, str) else list(one.string or ("",))
        if not all(forms):
            yield f"{name}: missing: {key_of(one)[1]!r}"
        elif one.fuzzy:
            yield f"{name}: fuzzy: {key_of(one)[1]!r}"
        else:
            yield from (f"{name}: {fault}: {key_of(one)[1]!r}" for fault in _unlike(one, forms))
    for gone in catalog.obsolete.values():
        yield f"{name}: obsolete: {key_of(gone)[1]!r}"


def _unlike(one: Message, forms: list[str]) -> Iterator[str]:
    english = [one.id] if isinstance(one.id, str) else list(one.id)
    wanted = Counter(_PLACES.findall(english[-1]))
    for number, form in enumerate(forms):
        found = Counter(_PLACES.findall(form))
        # the form for one thing may leave the number out
        may_lack = Counter(["{n}", "%(n)s"]) if len(forms) > 1 and number == 0 else Counter[str]()
        if found - wanted or (wanted - found) - may_lack:
            yield f"places differ, {sorted(wanted)} in English and {sorted(found)} here"
    ends = (english[0][:1].isspace(), english[0][-1:].isspace())
    if any((form[:1].isspace(), form[-1:].isspace()) != ends for form in forms):
        yield "begins or ends with a space where English does not, or the other way round"


def contradictions(catalogs: Iterable[tuple[str, Catalog]]) -> Iterator[str]:
    """A text that two catalogues translate differently: Django has one translation, whichever app it read first."""
    first: dict[tuple[Key, bool], tuple[str, object]] = {}
    for name, catalog in catalogs:
        for one in catalog:
            if one.id and one.string:
                before, string = first.setdefault((key_of(one), isinstance(one.id, str)), (name, one.string))
                if string != one.string:
                    yield f"{name}: {key_of(one)[1]!r} is {one.string!r} here and {string!r} in {before}"
