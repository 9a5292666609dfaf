"""Inner steps about planned reviews, for the write path of the record. They open no transaction."""

from __future__ import annotations

from collections.abc import Collection
from datetime import date, datetime
from uuid import UUID

from django.db.models import QuerySet
from django.utils.translation import gettext as _

from caseload.review.due import fulfilled
from caseload.review.models import PlannedReview
from clinic.audit import trail
from clinic.errors import Conflict
from clinic.staff.models import Staff


def planned(episode_id: UUID, kind: str, due_on: date) -> PlannedReview | None:
    """The open review of a kind that is planned for a day, locked; nothing where there is none."""
    rows = _waiting(episode_id).filter(kind=kind, due_on=due_on)
    return rows.first()


def settle(
    episode_id: UUID,
    *,
    actor: Staff,
    entry: UUID,
    done_at: datetime,
    at: datetime,
    day: date,
    falls: bool,
    waits: bool,
    chosen: Collection[UUID] | None = None,
) -> list[PlannedReview]:
    """A review was recorded: the plans that it settles are done.

    Those that were `chosen`; one of them that is no longer planned is a Conflict. Where nobody chose, those that it
    fulfils (`due.fulfilled`). `day`: its day at the site. The same entry again settles nothing twice.
    """
    if PlannedReview.objects.filter(entry=entry).exists():
        return []
    waiting = list(_waiting(episode_id).order_by("due_on", "pk"))
    if chosen is None:
        done = fulfilled(waiting, day, falls=falls, waits=waits)
    else:
        done = [row for row in waiting if row.pk in chosen]
        if len(done) < len(set(chosen)):
            raise Conflict(_("One of these reviews is no longer planned. Read the plan, then record it again."))
    for review in done:
        review.done_at, review.entry, review.version = done_at, entry, review.version + 1
        review.save(update_fields=["done_at", "entry", "version"])
        detail = {"version": review.version}
        trail.record(actor, "review.done", "planned_review", review.pk, at=at, episode=episode_id, detail=detail)
    return done


def _waiting(episode_id: UUID) -> QuerySet[PlannedReview]:
    rows = PlannedReview.objects.select_for_update(no_key=True)
    return rows.filter(episode_id=episode_id, done_at__isnull=True, cancelled_at__isnull=True)
