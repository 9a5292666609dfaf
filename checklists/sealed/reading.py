"""What a sealed mark says, once it is opened: a fact, and whose record it belongs to."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any
from uuid import UUID

import orjson

from checklists.sealed.models import SealedMark
from clinic.ledger.sealing import Unreadable, opened
from clinic.staff.models import Staff


@dataclass(frozen=True, slots=True)
class Content:
    """The fact as it would have been sent, and what the tablet had judged of it."""

    episode_id: UUID
    entry: Mapping[str, Any]
    judged: object = None


def content_of(*, author: str, mark: str, key: str, enc: bytes, box: bytes) -> Content:
    """Open it; whatever is not a fact under this id: Unreadable."""
    plain = opened(key=key, enc=enc, box=box, mark=mark, staff=author)
    try:
        said = orjson.loads(plain)
        entry, episode_id = said["entry"], UUID(said["episode"])
    except (orjson.JSONDecodeError, KeyError, TypeError, ValueError, AttributeError) as fault:
        raise Unreadable("What was sealed is no mark.") from fault
    if not isinstance(entry, dict) or entry.get("id") != mark or not isinstance(entry.get("kind"), str):
        raise Unreadable("What was sealed is no mark of this number.")
    return Content(episode_id, entry, said.get("judged"))


def content_for(author: Staff, row: SealedMark) -> Content | None:
    """What one of somebody's own marks says; None where it cannot be read."""
    try:
        return content_of(author=author.reference, mark=row.mark, key=row.key, enc=bytes(row.enc), box=bytes(row.box))
    except Unreadable:
        return None
