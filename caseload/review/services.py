"""Planning reviews. What a review found is a fact of the record, which settles the plan (`steps.settle`)."""

from __future__ import annotations

from datetime import date, datetime
from uuid import UUID

from django.db import transaction
from django.utils.translation import gettext as _

from caseload.episode.models import Episode
from caseload.review.models import PlannedReview, ReviewKind
from caseload.review.steps import planned
from caseload.writes import because, fit, unless_stale
from clinic import access, clock
from clinic.access import Action
from clinic.audit import trail
from clinic.errors import Conflict, Invalid
from clinic.staff.models import Staff


@transaction.atomic(durable=True)
def plan_review(
    *, actor: Staff, episode_id: UUID, due_on: date, kind: str = ReviewKind.ROUTINE, note: str = ""
) -> PlannedReview:
    """Plan a review for a day of the person's site, today at the earliest. The same again stands once."""
    at = clock.now()
    rows = Episode.objects.select_related("site", "person")
    episode = access.get(actor, Action.PLAN_REVIEW, rows, at=at, pk=episode_id)
    if episode.closed_at is not None:
        raise Conflict(_("The episode of {person} is closed.").format(person=episode.person.full_name))
    _ahead(due_on, episode, at)
    standing = planned(episode.pk, kind, due_on)
    if standing is not None:
        return standing
    review = PlannedReview(
        episode=episode, kind=kind, due_on=due_on, note=note.strip(), planned_by=actor, planned_at=at
    )
    fit(review)
    review.save(force_insert=True)
    detail = {"version": 1, "due_on": due_on.isoformat(), "kind": kind}
    trail.record(actor, "review.planned", "planned_review", review.pk, at=at, episode=episode.pk, detail=detail)
    return review


@transaction.atomic(durable=True)
def put_off_review(*, actor: Staff, review_id: UUID, version: int, due_on: date, reason: str) -> PlannedReview:
    """Move a review to another day, with the reason. The reminders begin anew for the new day."""
    at = clock.now()
    review = _to_come(actor, review_id, version, at)
    _ahead(due_on, review.episode, at)
    reason = because(reason, _("Say why it is put off."))
    before = review.due_on
    review.due_on, review.note, review.version = due_on, reason, review.version + 1
    fit(review)
    review.save(update_fields=["due_on", "note", "version"])
    detail = {"version": review.version, "from": before.isoformat(), "to": due_on.isoformat()}
    trail.record(actor, "review.put_off", "planned_review", review.pk, at=at, episode=review.episode_id, detail=detail)
    return review


@transaction.atomic(durable=True)
def cancel_review(*, actor: Staff, review_id: UUID, version: int, reason: str) -> PlannedReview:
    """Strike a planned review out, with the reason."""
    at = clock.now()
    review = _to_come(actor, review_id, version, at)
    reason = because(reason, _("Say why it is no longer needed."))
    review.cancelled_at, review.note, review.version = at, reason, review.version + 1
    fit(review)
    review.save(update_fields=["cancelled_at", "note", "version"])
    detail = {"version": review.version}
    trail.record(
        actor, "review.cancelled", "planned_review", review.pk, at=at, episode=review.episode_id, detail=detail
    )
    return review


def _to_come(actor: Staff, review_id: UUID, version: int, at: datetime) -> PlannedReview:
    """The review, locked; one that is done or cancelled is refused."""
    rows = PlannedReview.objects.select_for_update(no_key=True, of=("self",)).select_related("episode__site")
    review = access.get(actor, Action.PLAN_REVIEW, rows, at=at, pk=review_id)
    unless_stale(review, version, "planned_review", zone=review.episode.site.time_zone)
    if review.done_at is not None or review.cancelled_at is not None:
        done, gone = _("This review is done. Plan a new one."), _("This review is cancelled. Plan a new one.")
        raise Conflict(done if review.done_at else gone)
    return review


def _ahead(due_on: date, episode: Episode, at: datetime) -> None:
    if due_on < clock.local_day(at, episode.site.time_zone):
        raise Invalid(_("A review is planned for today or a day to come."))
