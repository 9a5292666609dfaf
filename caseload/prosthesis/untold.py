"""Exchanges that are in the record of facts while the register has not got their part.

The record registers who knows of them.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from uuid import UUID

from caseload.above import Above
from caseload.prosthesis.selectors import Device


@dataclass(frozen=True, slots=True)
class Untold:
    """The latest exchange of the knee of a prosthesis, as the record has it."""

    at: datetime
    words: str


# Of an episode, its prostheses and its site's time zone: which of them lack the part of an exchange.
exchanges: Above[[UUID, Sequence[Device], str], Mapping[UUID, Untold]] = Above("the exchanges")
register = exchanges.register


def untold(episode_id: UUID, worn: Sequence[Device], zone: str) -> Mapping[UUID, Untold]:
    """By prosthesis; nothing where the register has every part."""
    return exchanges(episode_id, worn, zone) if worn else {}
