"""Words of one language on a page that is in the other: what somebody forgot to translate.

The vocabulary is that of the catalogues: a word that stands in their English texts and in none of their Spanish ones is
English, and the other way round. What stands in the database (names, what somebody typed) is data in any language.
"""

from __future__ import annotations

import re
from collections.abc import Collection, Iterator
from functools import cache
from html.parser import HTMLParser

from babel.messages.catalog import Catalog
from django.db import connection

from clinic.language.catalogue import work
from clinic.run.places import ROOT

_SPOKEN = ("aria-label", "aria-description", "title", "placeholder", "alt", "data-head", "aria-roledescription")
_UNREAD = ("script", "style", "code", "textarea", "template")
_VOID = {"meta", "link", "br", "hr", "img", "input", "use", "path", "rect", "circle", "line", "col", "wbr"}
_PLACES = re.compile(r"\{\w*(?:[.\[!:][^{}]*)?\}|%\(\w+\)[a-z]|%%|</?[a-zA-Z][^>]*>|&\w+;")
_WORD = re.compile(r"(?<![\w@./-])[^\W\d_]{3,}(?![\w@/-]|\.\w)")


class _Texts(HTMLParser):
    """Every text that is seen or spoken, but for what is marked to be in another language than the page."""

    def __init__(self) -> None:
        super().__init__()
        self.language = ""
        self.direction = ""
        self.found: list[str] = []
        self._open: list[tuple[str, bool]] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        given = dict(attrs)
        if tag == "html":
            self.language, self.direction = given.get("lang") or "", given.get("dir") or ""
        other = given.get("lang") not in (None, self.language) or tag in _UNREAD
        if not (other or self._within_other):
            self.found += [value for name in _SPOKEN if (value := given.get(name))]
        if tag not in _VOID:
            self._open.append((tag, other or self._within_other))

    def handle_endtag(self, tag: str) -> None:
        if any(tag == name for name, _ in self._open):
            while self._open.pop()[0] != tag:
                pass

    def handle_data(self, data: str) -> None:
        if data.strip() and not self._within_other:
            self.found.append(" ".join(data.split()))

    @property
    def _within_other(self) -> bool:
        return bool(self._open) and self._open[-1][1]


def read(html: str) -> _Texts:
    """The page as its reader meets it."""
    texts = _Texts()
    texts.feed(html)
    return texts


def _words(text: str) -> Iterator[str]:
    yield from (word.casefold() for word in _WORD.findall(_PLACES.sub(" ", text)))


def _said(catalog: Catalog) -> Iterator[tuple[str, str]]:
    for one in catalog:
        if one.id and not (one.context or "").startswith("format of"):
            ids = one.id if isinstance(one.id, str) else " ".join(one.id)
            yield ids, one.string if isinstance(one.string, str) else " ".join(one.string or ())


@cache
def vocabulary() -> dict[str, frozenset[str]]:
    """The words that are of one language alone."""
    pairs = [
        pair for domain in work.DOMAINS for one in work.catalogs(ROOT, "es", domain).values() for pair in _said(one)
    ]
    english = {word for pair in pairs for word in _words(pair[0])}
    spanish = {word for pair in pairs for word in _words(pair[1])}
    return {"en": frozenset(english - spanish), "es": frozenset(spanish - english)}


def leftovers(html: str, language: str, data: Collection[str], same: Collection[str] = ()) -> list[str]:
    """Texts of a page with a word of `language` that is no data and none of those that are the same everywhere."""
    found = []
    for text in read(html).found:
        strange = {word for word in _words(text) if word in vocabulary()[language] and word not in same}
        if strange:
            left = text
            for value in data:
                left = left.replace(value, " ") if value in left else left
            if strange & set(_words(left)):
                found.append(text)
    return found


def in_the_database() -> list[str]:
    """Every text that stands in the database, the longest first: what somebody typed, names, references."""
    with connection.cursor() as cursor:
        cursor.execute(
            "SELECT table_name, column_name, data_type FROM information_schema.columns WHERE table_schema = 'public' "
            "AND data_type IN ('character varying', 'text', 'jsonb') AND table_name NOT LIKE 'django\\_%'"
        )
        found: set[str] = set()
        for table, column, kind in cursor.fetchall():
            cursor.execute(f'SELECT DISTINCT "{column}"::text FROM "{table}" LIMIT 2000')
            for (value,) in cursor.fetchall():
                found.update(re.findall(r'"((?:[^"\\]|\\.)*)"', value or "") if kind == "jsonb" else [value or ""])
    texts = {" ".join(value.split()) for value in found}
    return sorted((value for value in texts if len(value) > 2), key=len, reverse=True)
