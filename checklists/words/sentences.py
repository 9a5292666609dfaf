"""The sentences of the core in the reader's language.

The core (checklists/domain and its twin in JavaScript) makes English sentences; they are bytes of the contract, and
stay so in the record, in digests and in JSON. People read them through `said`, which finds the sentence of the list
that a text is made from, and puts its parts into the translated one. The list is data that the tablet's script reads as
well (static/checklists/words/sentences.js; said.js is this module's twin).
"""

from __future__ import annotations

import json
import re
from functools import lru_cache
from pathlib import Path
from typing import Any, NamedTuple

from django.utils.translation import get_language, gettext, pgettext

from checklists.words.skills import called, cut

LIST = Path(__file__).parent.parent / "static/checklists/words/sentences.js"
_DATA: dict[str, Any] = json.loads((text := LIST.read_text(encoding="utf-8"))[text.index("{\n") : text.rindex(";")])
SENTENCES: tuple[str, ...] = tuple(_DATA["sentences"])
PHRASES: dict[str, tuple[str, ...]] = {kind: tuple(words) for kind, words in _DATA["phrases"].items()}

_MONTHS = "|".join(PHRASES["month"])
# What may stand in a place of a sentence. Kinds that share a pattern are listed in _SAME.
_PATTERNS = {
    "date": rf"\d{{1,2}} (?:{_MONTHS}) \d{{4}}",
    "morning": rf"\d{{1,2}} (?:{_MONTHS})",
    "n": r"\d[\d,]*",
    "number": r"[a-z]+|\d+",
    "name": r"[^;]+?",
    "rung": r"[^(),']+?",
    "place": r"[^,]+",
    "why": r"[^;:]+?",
    "features": r"[a-z ,]+",
    "titles": r"(?:(?!; and \d+ more\.|\. [A-Z]).)+?",  # no further than its own sentence
    "field": r".{1,80}?",
    "word": r"[A-Za-z0-9_ -]+",
    "quoted": r"'.*'|\".*\"",
    "amount": r"-?\d[\d.e+]*(?: .+)?",
    "role": r"[a-z ]+",
    "episode": r"\S+",
    "sentence": r".+",
}
_SAME = {"day": "date", "m": "n", "days": "n", "stage": "n", "stages": "n", "other": "quoted"}
_PATTERNS["skills"] = _PATTERNS["titles"]  # titles that are read as the short names of their skills
_PLACE = re.compile(r"\{(\w+)\}")


class Form(NamedTuple):
    """A sentence of the list, and how its texts are recognised."""

    sentence: str
    pattern: re.Pattern[str]


def _form(sentence: str) -> Form:
    parts = _PLACE.split(sentence)
    body = "".join(
        f"(?P<{part}>{_PATTERNS.get(_SAME.get(part, part), '.+?')})" if odd % 2 else re.escape(part)
        for odd, part in enumerate(parts)
    )
    return Form(sentence, re.compile(body, re.DOTALL))


FORMS: tuple[Form, ...] = tuple(_form(sentence) for sentence in SENTENCES if _PLACE.search(sentence))


_CALLED = {sentence.split("{skills}")[0] for sentence in SENTENCES if "{skills}" in sentence}  # in English as well


def forms_of(text: str) -> list[tuple[Form, dict[str, str]]]:
    """The sentences of the list with places of which this text, as a whole, can have been made, with their parts."""
    found = ((form, form.pattern.fullmatch(text)) for form in FORMS)
    return [(form, match.groupdict()) for form, match in found if match]


def said(text: str) -> str:
    """A sentence, or several one after the other, in the reader's language; as it stands where it is unknown."""
    language = get_language()
    as_it_stands = language in (None, "en", "en-gb") and not any(head in text for head in _CALLED)
    return text if not text or as_it_stands else _said(text, str(language))


@lru_cache(maxsize=8_192)
def _said(text: str, language: str) -> str:
    """By language too: what is kept is one language's."""
    whole = _whole(text)
    if whole is not None:
        return whole
    for end in (found.start() + 1 for found in re.finditer(r"[.:;] ", text)):
        head = _whole(text[:end])
        if head is not None:
            return f"{head} {_said(text[end + 1 :], language)}"
    return text


def _whole(text: str) -> str | None:
    """The text as one sentence; None where no sentence of the list, and no text of the catalogue, is it."""
    known = gettext(text)
    if known != text:
        return known
    if text in SENTENCES:
        return text
    for form, parts in forms_of(text):
        return fill(gettext(form.sentence), {name: _part(name, part) for name, part in parts.items()})
    return None


def fill(sentence: str, parts: dict[str, str]) -> str:
    """A sentence with its places filled; a place without a part stays as it is written, so that it is seen."""
    return _PLACE.sub(lambda place: parts.get(place[1], place[0]), sentence)


def _part(name: str, part: str) -> str:
    """One part of a sentence in the reader's language, by the kind of its place."""
    kind = _SAME.get(name, name)
    if kind in ("date", "morning"):
        day, month, *year = part.split(" ")
        return " ".join([day, pgettext("month", month), *year])
    if kind == "titles":
        return "; ".join(_titles(part))
    if kind == "skills":
        return "; ".join(called(title) or cut(gettext(title)) for title in _apart(part))
    if kind == "features":
        words = [gettext(word) for word in re.split(r", | and ", part)]
        return _listed(words)
    if kind == "sentence":
        return said(part)
    return gettext(part) if part in PHRASES.get(kind, ()) or kind == "place" else part


def _listed(words: list[str]) -> str:
    return (
        gettext("{several} and {last}").format(several=", ".join(words[:-1]), last=words[-1]) if words[1:] else words[0]
    )


def _titles(part: str) -> list[str]:
    """Titles between semicolons, each translated."""
    return [gettext(title) if title else title for title in _apart(part)]


def _apart(part: str) -> list[str]:
    """Titles between semicolons; a title may have one of its own: the longest that is known counts."""
    pieces, found = part.split("; "), []
    while pieces:
        for many in range(len(pieces), 0, -1):
            title = "; ".join(pieces[:many])
            if many == 1 or called(title) or gettext(title) != title:
                found.append(title)
                del pieces[:many]
                break
    return found
