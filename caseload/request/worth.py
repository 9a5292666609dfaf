"""What an answer is worth now: whether the change that gave it was struck out, and what was put right in its place.

Changes are facts of the record, which registers who knows of their strike-outs.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from uuid import UUID

from caseload.above import Above
from caseload.request.selectors import Asked

# Of requests that changes answered, which of these changes were struck out: change → put right to, or nothing.
strikes: Above[[Collection[Asked]], Mapping[UUID, str]] = Above("the strike-outs")
register = strikes.register


@dataclass(frozen=True, slots=True)
class Answered:
    """A request with its answer. `struck`: the change that answered it was struck out; `right`: what it was put right
    to, as of the same instant, where somebody did."""

    asked: Asked
    struck: bool
    right: str


def answered(requests: Sequence[Asked]) -> list[Answered]:
    """Each with what its answer is worth now. One statement, or three where one was struck out."""
    by_change = [one for one in requests if one.entry]
    struck = strikes(by_change) if by_change else {}
    return [Answered(one, one.entry in struck, struck.get(one.entry, "") if one.entry else "") for one in requests]
