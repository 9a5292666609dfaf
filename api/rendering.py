"""JSON by orjson: dataclasses, UUIDs, dates and instants as they are, decimals as text."""

from __future__ import annotations

from collections.abc import Mapping
from decimal import Decimal
from typing import Any

import orjson
from django.utils.functional import Promise
from rest_framework.renderers import JSONRenderer


def _plain(value: object) -> object:
    if isinstance(value, Decimal | Promise):
        return str(value)
    if isinstance(value, set | frozenset):
        return sorted(value)
    raise TypeError(f"no JSON for {type(value).__name__}")


class FastJson(JSONRenderer):
    """The framework's renderer, with orjson instead of the standard library."""

    def render(
        self, data: Any, accepted_media_type: str | None = None, renderer_context: Mapping[str, Any] | None = None
    ) -> bytes:
        """The bytes of an answer; nothing for an answer without content."""
        return b"" if data is None else orjson.dumps(data, default=_plain)
