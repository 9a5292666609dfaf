"""Which modules a page's script stands on, so that the browser asks for all of them at once.

A browser learns of an import when it has read the module that names it: a chain of twelve is twelve waits, and each is
dear on a slow tablet. A page that must start quickly names them all in its head (`{% preload %}`, clinic/web/tags.py).
"""

from __future__ import annotations

import posixpath
import re
from functools import cache
from pathlib import Path

from django.contrib.staticfiles import finders

_IMPORT = re.compile(r"""^(?:import|export)\b[^;'"]*?["'](?P<path>\.[^'"]+)["']""", re.MULTILINE)


@cache
def stands_on(*names: str) -> tuple[str, ...]:
    """These static files and all that they import, nearest first, each once."""
    found = list(dict.fromkeys(names))
    for name in found:  # grows while it is walked
        found.extend(each for each in _imported(name) if each not in found)
    return tuple(found)


def _imported(name: str) -> list[str]:
    path = finders.find(name)
    if path is None:
        raise FileNotFoundError(f"no static file {name}")
    text = Path(path).read_text(encoding="utf-8")
    paths = (posixpath.join(posixpath.dirname(name), match["path"]) for match in _IMPORT.finditer(text))
    return list(dict.fromkeys(map(posixpath.normpath, paths)))
