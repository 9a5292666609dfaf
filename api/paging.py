"""Cursor pages over what a selector returned: the cursor names the last row that was seen, not a position."""

from __future__ import annotations

import base64
import binascii
from collections.abc import Callable, Sequence
from typing import Any, TypeVar

from django.utils.translation import gettext as _

from clinic.errors import Invalid

T = TypeVar("T")


class BadCursor(Invalid):
    """A cursor that no page gave, or whose row has gone."""

    code = "bad_cursor"
    status = 400


def cursor_for(key: object) -> str:
    """The opaque cursor of a row."""
    return base64.urlsafe_b64encode(str(key).encode()).decode().rstrip("=")


def key_of(cursor: str) -> str:
    """The row that a cursor names."""
    try:
        return base64.b64decode(cursor + "=" * (-len(cursor) % 4), altchars=b"-_", validate=True).decode()
    except (binascii.Error, ValueError, UnicodeDecodeError) as error:
        raise BadCursor(_("This cursor was not given by this list. Begin again without one.")) from error


def page(rows: Sequence[T], key: Callable[[T], object], *, limit: int, cursor: str | None = None) -> dict[str, Any]:
    """The rows after the one that the cursor names. A row that has left the list meanwhile: begin again."""
    start = 0
    if cursor:
        last = key_of(cursor)
        start = next((i + 1 for i, row in enumerate(rows) if str(key(row)) == last), -1)
        if start < 0:
            raise BadCursor(_("The list has changed meanwhile. Begin again without a cursor."))
    shown = rows[start : start + limit]
    more = start + limit < len(rows)
    return {"items": list(shown), "next": cursor_for(key(shown[-1])) if more and shown else None}
