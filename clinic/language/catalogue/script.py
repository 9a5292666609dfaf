"""The catalogue that scripts read: one ES module a language, a static file, so that its address changes with its
content and a tablet keeps it like any other script (clinic/static/clinic/js/gettext.js is its reader)."""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping
from pathlib import Path

from babel.messages.catalog import Catalog

SEPARATOR = "\x04"  # between context and text, as in gettext's own files
_HEAD = "// Made by `manage.py words` from the djangojs.po of every app: not written by hand.\n"


def path_of(root: Path, language: str) -> Path:
    """Where it lies."""
    return root / "clinic" / "static" / "clinic" / "words" / f"{language}.js"


def module_of(catalogs: Iterable[Catalog], language: str) -> str:
    """The module's text: what is translated, a counted text with all its forms."""
    texts: dict[str, str] = {}
    counted: dict[str, list[str]] = {}  # apart: the same words may stand once by themselves and once to be counted
    plural = "n != 1"
    for catalog in catalogs:
        plural = catalog.plural_expr
        for one in catalog:
            if one.id and one.string and not one.fuzzy:
                key = one.id if isinstance(one.id, str) else one.id[0]
                full = f"{one.context}{SEPARATOR}{key}" if one.context else key
                if isinstance(one.string, str):
                    texts[full] = one.string
                else:
                    counted[full] = list(one.string)
    head = f'globalThis.words = {{ language: "{language}", plural: (n) => Number({plural}),'
    return f"{_HEAD}{head} texts: {_object(texts)}, counted: {_object(counted)} }};\n"


def _object(table: Mapping[str, object]) -> str:
    return json.dumps(dict(sorted(table.items())), ensure_ascii=False, indent=1)
