"""Inner steps about planned reviews, for the write path of the record. They open no transaction."""

from __future__ import annotations

from datetime import datetime
from uuid import UUID

from caseload.review.models import PlannedReview, ReviewKind
from clinic.audit import trail
from clinic.staff.models import Staff


def settle(
    episode_id: UUID, *, actor: Staff, entry: UUID, done_at: datetime, at: datetime, falls: bool
) -> PlannedReview | None:
    """A review was recorded: the plan that it fulfils is done.

    One that looked at falls settles the earliest open review of a fall; where there is none, or it looked at none, the
    earliest open one of another kind. Nothing where none is planned. The same entry again settles nothing twice.
    """
    if PlannedReview.objects.filter(entry=entry).exists():
        return None
    waiting = PlannedReview.objects.select_for_update(no_key=True).filter(
        episode_id=episode_id, done_at__isnull=True, cancelled_at__isnull=True
    )
    of_fall = waiting.filter(kind=ReviewKind.FALL).order_by("due_on").first() if falls else None
    review = of_fall or waiting.exclude(kind=ReviewKind.FALL).order_by("due_on").first()
    if review is None:
        return None
    review.done_at, review.entry, review.version = done_at, entry, review.version + 1
    review.save(update_fields=["done_at", "entry", "version"])
    detail = {"version": review.version}
    trail.record(actor, "review.done", "planned_review", review.pk, at=at, episode=episode_id, detail=detail)
    return review
