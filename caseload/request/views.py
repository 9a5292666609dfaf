"""Asking the bench for an adjustment, and rewording what was asked."""

from __future__ import annotations

from functools import partial
from uuid import UUID

from django.http import HttpRequest, HttpResponse
from django.urls import reverse
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from caseload.episode.selectors import plan
from caseload.request.forms import AskForm, RewordForm
from caseload.request.selectors import request_of
from caseload.request.services import ask_adjustment, reword_request
from clinic import clock
from clinic.web.acts import Act, answer
from clinic.web.forms import signed_in

LEAD = gettext_lazy(
    "The prosthetist decides what is changed. A change can set skills back: they see which before they make it."
)


def ask(request: HttpRequest, episode_id: UUID) -> HttpResponse:
    """Ask for a change."""
    actor, at = signed_in(request), clock.now()
    head = plan(actor, episode_id, at=at)
    act = Act(
        title=_("Ask the prosthetist for an adjustment"),
        submit=_("Ask"),
        back=reverse("plan", args=[episode_id]),
        over=head.whose,
        lead=LEAD,
        done=_("The prosthetists have your request."),
    )
    form = AskForm(request.POST or None)
    return answer(request, act, form, partial(ask_adjustment, actor=actor, episode_id=episode_id))


def reword(request: HttpRequest, episode_id: UUID, request_id: UUID) -> HttpResponse:
    """Change what was asked, as long as nobody has answered."""
    actor, at = signed_in(request), clock.now()
    head, asked = plan(actor, episode_id, at=at), request_of(actor, request_id, at=at)
    act = Act(
        title=_("Reword the request"),
        submit=_("Save"),
        back=reverse("plan", args=[episode_id]),
        over=head.whose,
        lead=(
            _("Asked by {asked_by}; {state} by {seen_by}.") if asked.seen_by else _("Asked by {asked_by}; {state}.")
        ).format(asked_by=asked.asked_by, state=asked.state_words, seen_by=asked.seen_by),
    )
    initial = {"setting": asked.setting, "text": asked.text, "version": asked.version}
    form = RewordForm(request.POST or None, initial=initial)
    do = partial(reword_request, actor=actor, request_id=request_id)
    return answer(request, act, form, do, fresh=lambda: request_of(actor, request_id, at=at).version)
