"""What an answer is worth now: whether the change that gave it was struck out, and what was put right in its place.

Changes are facts of the record, which stands above this app: it registers who knows of their strike-outs.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Mapping, Sequence
from dataclasses import dataclass
from uuid import UUID

from caseload.request.selectors import Asked

Knows = Callable[[Collection[Asked]], Mapping[UUID, str]]
_knows: list[Knows] = []


@dataclass(frozen=True, slots=True)
class Answered:
    """A request with its answer. `struck`: the change that answered it was struck out; `right`: what it was put right
    to, as of the same instant, where somebody did."""

    asked: Asked
    struck: bool
    right: str


def register(knows: Knows) -> None:
    """Let it be asked, of requests that changes answered, which of these changes were struck out: change → put right
    to; empty where nobody did. A second one: ValueError."""
    if _knows and _knows != [knows]:
        raise ValueError("Somebody else knows of the strike-outs already.")
    _knows[:] = [knows]


def answered(requests: Sequence[Asked]) -> list[Answered]:
    """Each with what its answer is worth now. One statement, or three where one was struck out."""
    by_change = [one for one in requests if one.entry]
    struck = _knows[0](by_change) if by_change else {}
    return [Answered(one, one.entry in struck, struck.get(one.entry, "") if one.entry else "") for one in requests]
