"""`record_entry`: one fact through the whole write path, against the same rows written by one statement and a commit.

The fact is the commonest there is: a safe attempt that breaks nothing. The programme permits, locks, checks, folds and
judges it and then writes four rows: the entry, its content, the head of the episode, and the trail. The floor writes
the same four, with a snapshot and a board of the same size, and knows what to write beforehand, leaves and MACs
included. Both talk to the server through psycopg's own cursor, so that the statements are prepared once.
"""

from __future__ import annotations

import hashlib
import uuid
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any
from uuid import UUID

import orjson
from django.db import connection
from psycopg import Cursor

from checklists.record.models import Head
from checklists.record.services import record_entries
from checklists.speed import bare
from checklists.speed.measure import Ratio, in_turns
from clinic.access.standing import standing_as
from clinic.staff.models import Staff

FLOOR = """
WITH entry AS (
    INSERT INTO checklists_entry (id, episode_id, kind, at, by_id, received_at, sender_id, door, commitment, leaf, mac)
    VALUES (%(id)s, %(episode)s, 'attempt', %(at)s, %(staff)s, %(at)s, %(staff)s, 'command', %(commitment)s, %(leaf)s,
        %(mac)s)
), content AS (
    INSERT INTO checklists_entrycontent (entry_id, body, salt) VALUES (%(id)s, %(body)s, %(salt)s)
), trail AS (
    INSERT INTO clinic_trailrow (at, actor_id, verb, subject, subject_id, episode, origin, detail_text, leaf, mac)
    VALUES (%(at)s, %(staff)s, 'entries.recorded', 'episode', %(reference)s, %(episode)s, 'command', %(detail)s,
        %(leaf)s, %(mac)s)
)
UPDATE checklists_head SET snapshot = %(snapshot)s, board = %(board)s::jsonb, stale_at = NULL, last_at = %(at)s,
    entries = entries + 1, updated_at = %(at)s WHERE episode_id = %(episode)s
"""


@dataclass(frozen=True, slots=True)
class Writer:
    """Somebody who records in one episode; `since` is when its last session began."""

    staff: Staff
    episode_id: UUID
    reference: str
    since: datetime


def attempts(writer: Writer) -> Iterator[dict[str, Any]]:
    """Safe attempts, one a second, for as long as somebody asks."""
    second = 0
    while True:
        second += 1
        at = writer.since + timedelta(seconds=second)
        yield {
            "id": str(uuid.uuid4()),
            "kind": "attempt",
            "at": at.isoformat(),
            "skill": "stand_load",
            "support": "bars_both",
            "help": "stand_by",
            "result": "safe",
        }


def by_program(writer: Writer, fact: dict[str, Any]) -> None:
    """Record it as page and API do."""
    recorded = record_entries(actor=writer.staff, episode_id=writer.episode_id, entries=[fact])
    if recorded.verdicts[0].outcome != "accepted" or recorded.raised:
        raise RuntimeError(f"the bench's own fact was not taken quietly: {recorded}")


class Floor:
    """The hand-written statement, on one connection, with the episode's own snapshot and board as they are now."""

    def __init__(self, writer: Writer) -> None:
        head = Head.objects.get(episode=writer.episode_id)
        self._always = {
            "episode": writer.episode_id,
            "staff": writer.staff.pk,
            "reference": writer.reference,
            "snapshot": bytes(head.snapshot),
            "board": orjson.dumps(head.board).decode(),
            "salt": b"\0" * 16,
            "leaf": b"\0" * 32,
            "mac": b"\0" * 32,
        }

    def __call__(self, fact: dict[str, Any]) -> None:
        """Write the four rows of a fact, and commit."""
        body = orjson.dumps({**fact, "episode": self._always["reference"], "by": "S-0001", "role": "therapist"})
        more = {
            "id": fact["id"],
            "at": fact["at"],
            "body": body.decode(),
            "commitment": hashlib.sha256(body).digest(),
            "detail": orjson.dumps({"entries": [fact["id"]]}).decode(),
        }
        with connection.connection.transaction(), Cursor(connection.connection) as cursor:
            cursor.execute(FLOOR, {**self._always, **more}, prepare=True)


def acts_of(writer: Writer) -> dict[str, Callable[[dict[str, Any]], None]]:
    """The ways to write a fact: the floor, the programme, and the programme without the ledger."""

    def program(fact: dict[str, Any]) -> None:
        by_program(writer, fact)

    def without(fact: dict[str, Any]) -> None:
        with bare.without_ledger():
            by_program(writer, fact)

    return {"floor": Floor(writer), "program": program, "without": without}


def measure(writer: Writer, *, pairs: int, floor: str = "floor") -> Ratio:
    """One writer, one fact at a time; the database is asked as them, as when they come by page or API."""
    with standing_as(writer.staff):
        facts, acts = attempts(writer), acts_of(writer)
        return in_turns(lambda: acts[floor](next(facts)), lambda: acts["program"](next(facts)), pairs=pairs, warm=20)
