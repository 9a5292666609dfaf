"""The plan of one person, and its pauses and moves."""

from __future__ import annotations

from functools import partial
from uuid import UUID

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST

from caseload.episode.forms import PauseForm, TransferForm
from caseload.episode.page import plan_page
from caseload.episode.selectors import plan, sites
from caseload.episode.services import note_plan_opened, pause_episode, resume_episode, transfer_episode
from clinic import clock
from clinic.web.acts import Act, answer, offer
from clinic.web.forms import signed_in


def page(request: HttpRequest, episode_id: UUID) -> HttpResponse:
    """Everything that is planned for a person."""
    actor = signed_in(request)
    shown = plan_page(actor, episode_id, at=clock.now())
    note_plan_opened(actor=actor, episode_id=episode_id)
    return render(request, "caseload/plan.html", shown)


def pause(request: HttpRequest, episode_id: UUID) -> HttpResponse:
    """Let an episode rest."""
    actor, at = signed_in(request), clock.now()
    head = plan(actor, episode_id, at=at)
    lead = _("Their therapist keeps them. After four weeks without an attempt training begins in the bars again.")
    act = Act(title=_("Pause"), submit=_("Pause"), back=reverse("plan", args=[episode_id]), over=head.whose, lead=lead)
    form = PauseForm(request.POST or None, initial={"first_day": clock.local_day(at, head.zone)})
    return answer(request, act, form, partial(pause_episode, actor=actor, episode_id=episode_id))


@require_POST
def resume(request: HttpRequest, episode_id: UUID) -> HttpResponse:
    """End the pause of today."""
    resume_episode(actor=signed_in(request), episode_id=episode_id)
    messages.success(request, _("The pause has ended."))
    return redirect("plan", episode_id)


def transfer(request: HttpRequest, episode_id: UUID) -> HttpResponse:
    """Move a person to another site."""
    actor, at = signed_in(request), clock.now()
    head = plan(actor, episode_id, at=at)
    act = Act(
        title=_("Move to another site"),
        submit=_("Move"),
        back=reverse("plan", args=[episode_id]),
        over=head.whose,
        lead=_("Now at {site}. Therapist and planned sessions stay as they are: change them afterwards.").format(
            site=head.site
        ),
    )
    form = TransferForm(request.POST or None, initial={"version": head.version})
    offer(form, "site_id", [option for option in sites() if option[0] != head.site_id])
    do = partial(transfer_episode, actor=actor, episode_id=episode_id)
    return answer(request, act, form, do, fresh=lambda: plan(actor, episode_id, at=at).version)
