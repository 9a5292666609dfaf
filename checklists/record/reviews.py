"""A review that is recorded settles the plan that it fulfils, and plans the next one where it names a day."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from uuid import UUID

from caseload.review.models import PlannedReview, ReviewKind
from caseload.review.steps import settle
from checklists.domain import Entry
from checklists.record.lock import Locked
from checklists.record.reception import Reception
from clinic.audit import trail
from clinic.clock import local_day


def follow_reviews(reception: Reception, locked: Locked, came: Sequence[Entry], *, waits: bool) -> None:
    """What the reviews among the new entries do to the plans, in the same transaction. `waits`: whether a fall is open
    after all of them."""
    for entry in came:
        if entry.kind == "review":
            settle(
                locked.episode_id,
                actor=reception.actor,
                entry=UUID(entry.id),
                done_at=entry.instant,
                at=reception.at,
                day=local_day(entry.instant, locked.time_zone),
                falls=bool(entry.get("of")),
                waits=waits,
                chosen=reception.settles,
            )
            if entry.get("next_due"):
                kind = ReviewKind.FALL if entry.get("of") else ReviewKind.ROUTINE
                _plan(reception, locked, kind, date.fromisoformat(entry.get("next_due")))


def _plan(reception: Reception, locked: Locked, kind: ReviewKind, due_on: date) -> None:
    waiting = PlannedReview.objects.filter(
        episode_id=locked.episode_id, due_on=due_on, done_at__isnull=True, cancelled_at__isnull=True
    )
    if waiting.exists():
        return
    row = PlannedReview.objects.create(
        episode_id=locked.episode_id,
        kind=kind,
        due_on=due_on,
        planned_by=reception.actor,
        planned_at=reception.at,
    )
    detail = {"version": 1, "due_on": due_on.isoformat(), "kind": row.kind}
    trail.record(
        reception.actor,
        "review.planned",
        "planned_review",
        row.pk,
        at=reception.at,
        episode=locked.episode_id,
        detail=detail,
    )
