"""Recording a review, and discharging somebody: pages that a person's plan leads to."""

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
from caseload.review.selectors import open_reviews, settled_by, to_settle
from caseload.review.told import option_words, settled_words
from checklists.episode.forms import DischargeForm, ReviewForm
from checklists.episode.selectors import closing_breaks, falls_to_review
from checklists.episode.services import close_episode, review_fall
from checklists.person.services import note_opened
from clinic import clock
from clinic.access import Action
from clinic.web.acts import Act, answer
from clinic.web.entrance import asked_next
from clinic.web.forms import signed_in

if TYPE_CHECKING:
    from checklists.episode.changing import Written
    from clinic.staff.models import Staff

CAUTION = gettext_lazy(
    "When somebody is looked at again, and who may clear them, is for local policy and licensed practice."
)


def review(request: HttpRequest, episode_id: UUID) -> HttpResponse:
    """Record a review: of falls with its outcome, or a routine one."""
    actor, at = signed_in(request), clock.now()
    head = plan(actor, episode_id, at=at, action=Action.REVIEW_FALL)
    _opened(request, episode_id, "review")
    act = Act(
        title=_("Record a review"),
        submit=_("Record the review"),
        back=asked_next(request) or reverse("plan", args=[episode_id]),
        over=head.whose,
        lead=_("A day to look again plans the next one."),
        template="episode/review.html",
        caution=str(CAUTION),
    )
    falls = falls_to_review(head)
    planned = to_settle(actor, episode_id, at=at, falls=bool(falls))
    offered = [(str(row.review_id), option_words(row), own) for row, own in planned]
    form = ReviewForm(request.POST or None, falls=falls, planned=offered)
    do = partial(review_fall, actor=actor, episode_id=episode_id)
    return answer(request, act, form, do, then=partial(_reviewed, actor, episode_id, form))


def _reviewed(actor: Staff, episode_id: UUID, form: ReviewForm, written: Written, act: Act) -> Act:
    """Which planned reviews it settled, the day that it named, and what is planned next."""
    at = clock.now()
    done, planned = settled_by(actor, written.entry, at=at), open_reviews(actor, at=at, episode_id=episode_id)
    return replace(act, done=settled_words(done, planned, again=form.cleaned_data["next_due"]))


def discharge(request: HttpRequest, episode_id: UUID) -> HttpResponse:
    """Close the episode; what that would break is said first."""
    actor, at = signed_in(request), clock.now()
    head = plan(actor, episode_id, at=at, action=Action.CLOSE_EPISODE)
    _opened(request, episode_id, "discharge")
    act = Act(
        title=_("Discharge"),
        submit=_("Close the episode"),
        back=reverse("people"),
        over=head.whose,
        lead=_(
            "Nothing is trained under a closed episode. Planned sessions and reviews are cancelled; the record stays."
        ),
        done=_("The episode of {name} is closed.").format(name=head.name),
        template="episode/discharge.html",
        extra={"breaks": closing_breaks(head, episode_id, at=at)},
    )
    form = DischargeForm(request.POST or None)
    return answer(request, act, form, partial(close_episode, actor=actor, episode_id=episode_id))


def _opened(request: HttpRequest, episode_id: UUID, page: str) -> None:
    """Both pages tell something of the record: looking at them is accounted for."""
    if request.method == "GET":
        note_opened(actor=signed_in(request), episode_id=episode_id, page=page)
