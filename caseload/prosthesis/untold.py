"""Exchanges that are in the record of facts while the register has not got their part.

The record stands above this app: it registers who knows of them.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from uuid import UUID

from caseload.prosthesis.selectors import Device


@dataclass(frozen=True, slots=True)
class Untold:
    """The latest exchange of the knee of a prosthesis, as the record has it."""

    at: datetime
    words: str


Knows = Callable[[UUID, Sequence[Device], str], Mapping[UUID, Untold]]
_knows: list[Knows] = []


def register(knows: Knows) -> None:
    """Let it be asked of an episode, its prostheses and its site's time zone which of them lack the part of an
    exchange. A second one: ValueError."""
    if _knows and _knows != [knows]:
        raise ValueError("Somebody else knows of the exchanges already.")
    _knows[:] = [knows]


def untold(episode_id: UUID, worn: Sequence[Device], zone: str) -> Mapping[UUID, Untold]:
    """By prosthesis; nothing where the register has every part."""
    return _knows[0](episode_id, worn, zone) if worn else {}
