"""The texts that the code marks: Python (gettext and its kin), templates (translate and the like), scripts; and those
that are data: the sentences of the core (`words/sentences.js`) and of protocol documents (`protocols/*.json`)."""

from __future__ import annotations

import ast
import json
import re
from collections.abc import Iterator
from io import BytesIO
from pathlib import Path
from typing import Any, NamedTuple

from babel.messages.catalog import Catalog
from babel.messages.extract import DEFAULT_KEYWORDS, extract
from django.utils.translation.template import templatize

APPS = ("clinic", "caseload", "checklists", "api")
DOMAINS = ("django", "djangojs")  # Python and templates; scripts
KEYWORDS: dict[str, Any] = {
    **DEFAULT_KEYWORDS,
    "gettext_lazy": None,
    "gettext_noop": None,
    "pgettext_noop": ((1, "c"), 2),
    "ngettext_lazy": (1, 2),
    "pgettext_lazy": ((1, "c"), 2),
    "npgettext_lazy": ((1, "c"), 2, 3),
}
NOT_OURS = re.compile(r"/migrations/|htmx-|/static/checklists/core/")  # the core speaks English, as the record does
_LITERAL = r"""u?('(?:[^'\\]|\\.)*'|"(?:[^"\\]|\\.)*")"""
_CALL = re.compile(rf"(?<![\w.])(?P<name>n?p?gettext|_)\(\s*{_LITERAL}(?:\s*,\s*{_LITERAL})?(?:\s*,\s*{_LITERAL})?")


class Text(NamedTuple):
    """One text: its singular and, where it is counted, plural; the context that tells it from its like; its place."""

    ids: tuple[str, ...]
    context: str | None
    place: str
    notes: tuple[str, ...] = ()


def texts_of(root: Path, app: str, domain: str) -> Iterator[Text]:
    """Every text that an app marks for a domain, in the order of its files."""
    data = (("words/sentences.js", _sentences), ("protocols/*.json", _document))  # pages and scripts alike say them
    kinds = {"django": (("*.py", _python), ("*.html", _template)), "djangojs": (("*.js", _script),)}
    for pattern, read in (*kinds[domain], *data):
        for path in sorted((root / app).rglob(pattern)):
            place = path.relative_to(root).as_posix()
            if not NOT_OURS.search(f"/{place}"):
                yield from read(path.read_text(encoding="utf-8"), place)


def _python(source: str, place: str) -> Iterator[Text]:
    return _by_babel("python", source, place)


def _script(source: str, place: str) -> Iterator[Text]:
    return _by_babel("javascript", source, place)


def _by_babel(method: str, source: str, place: str) -> Iterator[Text]:
    options = {"parse_template_string": True} if method == "javascript" else {}
    found = extract(method, BytesIO(source.encode()), KEYWORDS, ("Translators:",), options)
    for _line, ids, notes, context in found:
        yield Text(tuple(ids) if isinstance(ids, tuple | list) else (ids,), context, place, tuple(notes))


def _template(source: str, place: str) -> Iterator[Text]:
    """Django itself turns a template into calls of gettext; here they are read."""
    for call in _CALL.finditer(templatize(source)):
        said = [str(ast.literal_eval(literal)) for literal in call.groups()[1:] if literal]
        context = said.pop(0) if "p" in call["name"].removesuffix("gettext") else None
        counted = call["name"].startswith("n")
        yield Text(tuple(said[: 2 if counted else 1]), context, place)


def _sentences(source: str, place: str) -> Iterator[Text]:
    """The list of sentences, and the phrases that stand in their places; months bear a context of their own."""
    kept = json.loads(source[source.index("{\n") : source.rindex(";")])
    for sentence in kept["sentences"]:
        yield Text((sentence,), None, place)
    for kind, phrases in kept["phrases"].items():
        for phrase in phrases:
            yield Text((phrase,), "month" if kind == "month" else None, place)


_READ = ("title", "sentence", "do_now", "source", "watch")  # what people read of a part of a protocol


def _document(source: str, place: str) -> Iterator[Text]:
    """The texts for people of a protocol document; its notes are for whoever writes protocols, but for the first."""
    document = json.loads(source)
    yield Text((document["note"],), None, place)
    for part in (document, *(one for many in document.values() if isinstance(many, list) for one in many)):
        for name in _READ if isinstance(part, dict) else ():
            texts = part.get(name, [])
            for text in texts if isinstance(texts, list) else [texts]:
                yield Text((text,), None, place)


def template_of(root: Path, app: str, domain: str) -> Catalog:
    """What there is to translate, as a catalogue without translations: a text once, with all its places."""
    catalog = Catalog(domain=domain, charset="utf-8")
    for text in texts_of(root, app, domain):
        if text.ids[0]:
            ids = text.ids if len(text.ids) > 1 else text.ids[0]
            catalog.add(ids, None, [(text.place, 0)], context=text.context, auto_comments=text.notes)
    return catalog
