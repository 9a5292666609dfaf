"""Cursor pages: the next page begins after the last row seen, so that new rows never show an old one twice."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Generic, TypeVar

T = TypeVar("T")


@dataclass(frozen=True, slots=True)
class Page(Generic[T]):
    """Some rows, newest first, and the cursors of the pages beside it (empty where there is none)."""

    rows: Sequence[T]
    older: str = ""
    newest: bool = True


def cut(rows: Sequence[T], size: int, cursor_of: Callable[[T], object], *, newest: bool) -> Page[T]:
    """Make a page of `size` rows out of at most `size + 1` that were read; `cursor_of(row)` gives a row's cursor."""
    shown = rows[:size]
    more = len(rows) > size
    return Page(rows=shown, older=str(cursor_of(shown[-1])) if more else "", newest=newest)
