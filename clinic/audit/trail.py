"""The one writer of the audit trail.

Whoever writes a row need not be allowed to read it: nothing is asked back from the database when one is put in.
"""

from __future__ import annotations

from collections.abc import Mapping
from contextvars import ContextVar
from dataclasses import dataclass
from datetime import datetime
from typing import Any
from uuid import UUID

from django.db import connection
from psycopg import Cursor

from clinic.audit.leaf import TRAIL
from clinic.audit.models import Origin
from clinic.ledger.canonical import canonical_json
from clinic.ledger.mac import stamp
from clinic.staff.models import Staff

Row = dict[str, Any]
_NUMBER = "SELECT nextval('clinic_trailrow_number_seq')"
_INSERT = """
INSERT INTO clinic_trailrow (number, at, actor_id, verb, subject, subject_id, episode, origin, detail_text, leaf, mac)
VALUES (%(number)s, %(at)s, %(actor_id)s, %(verb)s, %(subject)s, %(subject_id)s, %(episode)s, %(origin)s,
    %(detail_text)s, %(leaf)s, %(mac)s)
"""


@dataclass(frozen=True, slots=True)
class Came:
    """Through which door something came, and from which address."""

    door: Origin = Origin.COMMAND
    address: str = ""

    def __str__(self) -> str:
        return f"{self.door} {self.address}".strip()


# Set by the middleware of pages and API, by the worker and by commands; a service need not be told.
_came: ContextVar[Came] = ContextVar("came", default=Came())  # noqa: B039 - what is shared cannot change


def came_from() -> Came:
    """Where the work in hand came from."""
    return _came.get()


def coming_from(came: Came) -> object:
    """Say where the work in hand comes from; give the token to `left` afterwards."""
    return _came.set(came)


def left(token: Any) -> None:
    """The work said by `coming_from` is over."""
    _came.reset(token)


def row(
    actor: Staff | None,
    verb: str,
    subject: str,
    subject_id: object,
    *,
    at: datetime,
    number: int,
    episode: UUID | None = None,
    detail: Mapping[str, object] | None = None,
) -> Row:
    """A row's columns, for a writer that inserts several kinds of rows in one statement; `number` is from the table's
    own sequence. `stamped` makes it ready."""
    return {
        "number": number,
        "at": at,
        "actor_id": actor.pk if actor is not None else None,
        "verb": verb,
        "subject": subject,
        "subject_id": str(subject_id),
        "episode": episode,
        "origin": str(came_from()),
        "detail_text": canonical_json(dict(detail or {})).decode(),
    }


def stamped(row: Row) -> Row:
    """The row with leaf and MAC, ready to be inserted."""
    leaf, mac = stamp(TRAIL, row)
    return row | {"leaf": leaf, "mac": mac}


def record(
    actor: Staff | None,
    verb: str,
    subject: str,
    subject_id: object,
    *,
    at: datetime,
    episode: UUID | None = None,
    detail: Mapping[str, object] | None = None,
) -> None:
    """Account for something done or seen, in the caller's transaction. `verb` is noun.past_tense."""
    connection.ensure_connection()
    with connection.wrap_database_errors, Cursor(connection.connection) as cursor:
        (number,) = cursor.execute(_NUMBER, prepare=True).fetchone() or (0,)
        made = row(actor, verb, subject, subject_id, at=at, number=number, episode=episode, detail=detail)
        cursor.execute(_INSERT, stamped(made), prepare=True)
