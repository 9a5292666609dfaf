"""News that has been settled since it came: a request that is answered, a review that is made."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from contextlib import suppress
from datetime import date, datetime
from typing import Any
from uuid import UUID

from django.db.models import QuerySet
from django.utils.translation import gettext as _

from caseload.models import AdjustmentRequest, PlannedReview
from caseload.request.models import RequestState
from checklists.alerts.models import Notice
from clinic import access
from clinic.access import Action
from clinic.language import dates
from clinic.staff.models import Staff


def settled_since(actor: Staff, rows: Sequence[Notice], *, at: datetime) -> dict[int, str]:
    """What became of it, by the number of the notice, as far as the actor may see it. Three statements."""
    asked = _about(row for row in rows if row.topic == "request.asked")
    planned = _about(row for row in rows if row.topic.startswith("review."))
    ended = [RequestState.DONE, RequestState.DECLINED]
    own = _about(row for row in rows if row.topic == "request.answered")
    requests = AdjustmentRequest.objects.filter(pk__in={*asked.values(), *own.values()}, state__in=ended)
    answered = {row.pk: row for row in access.scoped(actor, Action.SEE_REQUESTS, requests, at=at)}
    reviews = access.scoped(actor, Action.SEE_PERSON, PlannedReview.objects.filter(pk__in=planned.values()), at=at)
    made = _seen(reviews.filter(done_at__isnull=False))
    put_off = _put_off(rows, dict(reviews.filter(done_at__isnull=True).values_list("pk", "due_on")), planned)
    return {
        **{number: _("answered since") for number, subject in asked.items() if subject in answered},
        **{number: _answer_words(answered[subject]) for number, subject in own.items() if subject in answered},
        **{number: _("done since") for number, subject in planned.items() if subject in made},
        **{number: _("a new date since: {day}").format(day=dates.day(on)) for number, on in put_off.items()},
    }


def _answer_words(asked: AdjustmentRequest) -> str:
    """'declined: “Not before Monday.”': how it was answered, and of what is not done why."""
    words = asked.get_state_display()
    return f"{words}: “{asked.answer}”" if asked.state == RequestState.DECLINED and asked.answer else words


def _put_off(rows: Iterable[Notice], due: Mapping[UUID, date], planned: Mapping[int, UUID]) -> dict[int, date]:
    """Of the news about reviews that have another date now than the one that it was about: that date."""
    now = {row.pk: due[planned[row.pk]] for row in rows if planned.get(row.pk) in due}
    return {row.pk: now[row.pk] for row in rows if row.pk in now and row.dedupe_key[-10:] != now[row.pk].isoformat()}


def _about(rows: Iterable[Notice]) -> dict[int, UUID]:
    """The subject of each; what names none is left out."""
    found = {}
    for row in rows:
        with suppress(ValueError):
            found[row.pk] = UUID(row.subject_id)
    return found


def _seen(rows: QuerySet[Any]) -> set[UUID]:
    return set(rows.values_list("pk", flat=True))
