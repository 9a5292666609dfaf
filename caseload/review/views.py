"""Planning reviews, putting them off, striking them out."""

from __future__ import annotations

from dataclasses import replace
from functools import partial
from typing import TYPE_CHECKING
from uuid import UUID

from django.http import HttpRequest, HttpResponse
from django.urls import reverse
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from caseload.episode.selectors import plan
from caseload.review.forms import CancelForm, PutOffForm, ReviewForm
from caseload.review.selectors import open_reviews, review_of
from caseload.review.services import cancel_review, plan_review, put_off_review
from caseload.review.told import put_off_words
from clinic import clock
from clinic.web.acts import Act, answer
from clinic.web.forms import signed_in

if TYPE_CHECKING:
    from caseload.review.models import PlannedReview
    from caseload.review.selectors import Due
    from clinic.staff.models import Staff

CAUTION = gettext_lazy(
    "When somebody is looked at again is for local policy and licensed practice; intervals here are defaults."
)


def plan_page(request: HttpRequest, episode_id: UUID) -> HttpResponse:
    """Plan a review."""
    actor, at = signed_in(request), clock.now()
    head = plan(actor, episode_id, at=at)
    act = Act(
        title=_("Plan a review"),
        submit=_("Plan the review"),
        back=reverse("plan", args=[episode_id]),
        over=head.whose,
        caution=CAUTION,
    )
    form = ReviewForm(request.POST or None)
    return answer(request, act, form, partial(plan_review, actor=actor, episode_id=episode_id))


def put_off(request: HttpRequest, episode_id: UUID, review_id: UUID) -> HttpResponse:
    """Move a review to another day."""
    actor, at = signed_in(request), clock.now()
    head, review = plan(actor, episode_id, at=at), review_of(actor, review_id, at=at)
    act = Act(
        title=_("New date for the review"),
        submit=_("Set the new date"),
        back=reverse("plan", args=[episode_id]),
        over=head.whose,
        lead=_("{kind}, {words}. Reminders begin anew for the new day.").format(
            kind=review.kind.capitalize(), words=review.words
        ),
        caution=CAUTION,
    )
    form = PutOffForm(request.POST or None, initial={"version": review.version})
    do = partial(put_off_review, actor=actor, review_id=review_id)
    fresh = lambda: review_of(actor, review_id, at=at).version  # noqa: E731 - passed on as it is
    return answer(request, act, form, do, fresh=fresh, then=partial(_put_off, actor, review))


def _put_off(actor: Staff, before: Due, now: PlannedReview, act: Act) -> Act:
    """Which one it was, and which of the same person is overdue all the same."""
    late = [row for row in open_reviews(actor, at=clock.now(), episode_id=now.episode_id) if row.days_late]
    return replace(act, done=put_off_words(before, now.due_on, late))


def cancel(request: HttpRequest, episode_id: UUID, review_id: UUID) -> HttpResponse:
    """Strike a review out."""
    actor, at = signed_in(request), clock.now()
    head, review = plan(actor, episode_id, at=at), review_of(actor, review_id, at=at)
    act = Act(
        title=_("Strike the review out"),
        submit=_("Strike it out"),
        back=reverse("plan", args=[episode_id]),
        over=head.whose,
        lead=f"{review.kind.capitalize()}, {review.words}.",
    )
    form = CancelForm(request.POST or None, initial={"version": review.version})
    do = partial(cancel_review, actor=actor, review_id=review_id)
    return answer(request, act, form, do, fresh=lambda: review_of(actor, review_id, at=at).version)
