"""The one writer of the audit trail."""

from __future__ import annotations

from collections.abc import Mapping
from contextvars import ContextVar
from dataclasses import dataclass
from datetime import datetime
from typing import Any
from uuid import UUID

from clinic.audit.models import Origin, TrailRow
from clinic.staff.models import Staff


@dataclass(frozen=True, slots=True)
class Came:
    """Through which door something came, and from which address."""

    door: Origin = Origin.COMMAND
    address: str = ""

    def __str__(self) -> str:
        return f"{self.door} {self.address}".strip()


# Set by the middleware of pages and API, by the worker and by commands; a service need not be told.
_came: ContextVar[Came] = ContextVar("came", default=Came())  # noqa: B039 - frozen


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
    episode: UUID | None = None,
    detail: Mapping[str, object] | None = None,
) -> TrailRow:
    """An unsaved row, for a writer that inserts several kinds of rows in one statement."""
    return TrailRow(
        at=at,
        actor=actor,
        verb=verb,
        subject=subject,
        subject_id=str(subject_id),
        episode=episode,
        origin=str(came_from()),
        detail=dict(detail or {}),
    )


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
    row(actor, verb, subject, subject_id, at=at, episode=episode, detail=detail).save(force_insert=True)
