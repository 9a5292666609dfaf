"""The canonical form (RFC 8785) of JSON, and of the values that stand in the columns of a row.

Rows are written thousands of times between two looks at the standard's library, so the common cases take a fast way;
tests hold every form equal to that library, and equal to what SQL makes of the same columns (clinic/ledger/sources.py).
"""

from __future__ import annotations

from datetime import UTC, datetime
from typing import Any
from uuid import UUID

import orjson
import rfc8785

EXACT = 2**53  # whole numbers beyond it are not exact in JSON; the standard's library refuses them


def canonical_json(value: Any) -> bytes:
    """The RFC 8785 form. Of plain ASCII without fractions a fast encoder gives the same bytes.

    Refuses what JSON cannot say exactly: NaN, whole numbers from 2^53, lone surrogates, and anything that is not JSON.
    """
    if _plain(value):
        quick = orjson.dumps(value, option=orjson.OPT_SORT_KEYS)
        if quick.isascii():
            return quick
    return bytes(rfc8785.dumps(value))


def _plain(value: Any) -> bool:
    """Whether there is nothing in it but texts, small whole numbers, yes, no and nothing."""
    kind = type(value)
    if kind is str or value is None or kind is bool:
        return True
    if kind is int:
        return bool(-EXACT < value < EXACT)
    if kind is dict:
        return all(type(key) is str and _plain(one) for key, one in value.items())
    if kind is list:
        return all(map(_plain, value))
    return False


def text(value: str) -> str:
    """A text as JSON writes it: the same escapes, and no others, as in RFC 8785 §3.2.2.2."""
    return orjson.dumps(value).decode()


def uuid(value: UUID | str) -> str:
    """An id, in lower case with hyphens."""
    return f'"{str(value).lower()}"'


def maybe_uuid(value: UUID | str | None) -> str:
    """An id, or nothing."""
    return "null" if value is None else f'"{str(value).lower()}"'


def instant(value: datetime) -> str:
    """An instant in UTC to the microsecond, as RFC 3339 writes it."""
    return f'"{value.astimezone(UTC).isoformat(timespec="microseconds")[:26]}Z"'


def octets(value: bytes | memoryview) -> str:
    """Bytes, hexadecimal."""
    return f'"{value.hex()}"'


def json(value: str) -> str:
    """A text that is canonical JSON already."""
    return value
