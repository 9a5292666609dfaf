"""Inner steps about planned reviews, for the write path of the record. They open no transaction."""

from __future__ import annotations

from datetime import date, datetime
from uuid import UUID

from django.db.models import QuerySet

from caseload.review.models import PlannedReview, ReviewKind
from clinic.audit import trail
from clinic.staff.models import Staff


def planned(episode_id: UUID, kind: str, due_on: date) -> PlannedReview | None:
    """The open review of a kind that is planned for a day, locked; nothing where there is none."""
    rows = _waiting(episode_id).filter(kind=kind, due_on=due_on)
    return rows.first()


def settle(
    episode_id: UUID, *, actor: Staff, entry: UUID, done_at: datetime, at: datetime, day: date, falls: bool
) -> list[PlannedReview]:
    """A review was recorded: the plans that it fulfils are done.

    One that looked at falls fulfils the open reviews of a fall; where there is none, or it looked at none, the other
    open ones. Of these, all that were due by `day`, its day at the site; where none was, the earliest to come. Nothing
    where none is planned. The same entry again settles nothing twice.
    """
    if PlannedReview.objects.filter(entry=entry).exists():
        return []
    waiting = _waiting(episode_id).order_by("due_on", "pk")
    of_falls = list(waiting.filter(kind=ReviewKind.FALL)) if falls else []
    rows = of_falls or list(waiting.exclude(kind=ReviewKind.FALL))
    done = [row for row in rows if row.due_on <= day] or rows[:1]
    for review in done:
        review.done_at, review.entry, review.version = done_at, entry, review.version + 1
        review.save(update_fields=["done_at", "entry", "version"])
        detail = {"version": review.version}
        trail.record(actor, "review.done", "planned_review", review.pk, at=at, episode=episode_id, detail=detail)
    return done


def _waiting(episode_id: UUID) -> QuerySet[PlannedReview]:
    rows = PlannedReview.objects.select_for_update(no_key=True)
    return rows.filter(episode_id=episode_id, done_at__isnull=True, cancelled_at__isnull=True)
