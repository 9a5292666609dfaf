"""What of a record belongs to one sign-off: what withdrew it, and what struck it out. Pure."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any, Protocol, TypeVar
from uuid import UUID


class Known(Protocol):
    """A row of the record as far as it is asked here; `said` is empty where the content was erased."""

    @property
    def number(self) -> int:
        """Its place in the order of reception."""

    @property
    def id(self) -> UUID:
        """Its id."""

    @property
    def kind(self) -> str:
        """What kind of fact it is."""

    @property
    def said(self) -> Mapping[str, Any]:
        """The content."""


Row = TypeVar("Row", bound=Known)


def withdrawing(sign_off: Known, record: Iterable[Row]) -> list[Row]:
    """The withdrawals of its skill that came after a sign-off."""
    return [
        row
        for row in record
        if row.kind == "sign_off_withdrawn"
        and row.number > sign_off.number
        and row.said.get("skill") == sign_off.said.get("skill")
    ]


def striking(ids: Iterable[str], record: Iterable[Row]) -> list[Row]:
    """What struck out one of these entries."""
    wanted = set(ids)
    return [row for row in record if row.kind == "struck_out" and row.said.get("entry") in wanted]
