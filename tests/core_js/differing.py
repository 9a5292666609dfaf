"""Where two answers differ."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any


def differences(wanted: Any, found: Any, place: str = "") -> list[str]:
    """Where two answers differ, text for text; a number is the same however it is written, and true is not 1."""
    if isinstance(wanted, Mapping) and isinstance(found, Mapping):
        keys = [*wanted, *(key for key in found if key not in wanted)]
        none = object()
        return [
            each for key in keys for each in differences(wanted.get(key, none), found.get(key, none), f"{place}.{key}")
        ]
    if isinstance(wanted, list | tuple) and isinstance(found, list | tuple) and len(wanted) == len(found):
        pairs = enumerate(zip(wanted, found, strict=True))
        return [each for number, (a, b) in pairs for each in differences(a, b, f"{place}[{number}]")]
    same = wanted == found and isinstance(wanted, bool) == isinstance(found, bool)
    return [] if same else [f"{place}: {found!r}, not {wanted!r}"]
