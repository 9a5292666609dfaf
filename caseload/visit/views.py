"""Planning sessions, and saying what became of them."""

from __future__ import annotations

from functools import partial
from uuid import UUID

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.urls import reverse
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST

from caseload.assignment.selectors import colleagues
from caseload.episode.selectors import plan
from caseload.visit.forms import VisitForm
from caseload.visit.services import plan_visits, set_visit_state
from clinic import clock
from clinic.errors import Refusal
from clinic.web.acts import Act, answer, offer, posted_version
from clinic.web.forms import signed_in


def plan_page(request: HttpRequest, episode_id: UUID) -> HttpResponse:
    """Plan a session or a weekly series."""
    actor, at = signed_in(request), clock.now()
    head = plan(actor, episode_id, at=at)
    form = VisitForm(request.POST or None, initial={"day": clock.local_day(at, head.zone)})
    offer(form, "staff_id", colleagues(at=at), nothing=_("their therapist"))
    act = Act(
        title=_("Plan sessions"),
        submit=_("Plan"),
        back=reverse("plan", args=[episode_id]),
        over=head.whose,
        lead=_("At {site}, by the clocks there.").format(site=head.site),
    )
    return answer(request, act, form, partial(plan_visits, actor=actor, episode_id=episode_id))


@require_POST
def state(request: HttpRequest, episode_id: UUID, visit_id: UUID) -> HttpResponse:
    """Came, did not come, cancelled, or planned after all: one press beside the session."""
    try:
        visit = set_visit_state(
            actor=signed_in(request),
            visit_id=visit_id,
            version=posted_version(request),
            state=request.POST.get("state", ""),
        )
        messages.success(request, _("The session is written down: {state}.").format(state=visit.get_state_display()))
    except Refusal as refusal:
        if refusal.status in (403, 404):
            raise
        messages.error(request, " ".join([refusal.sentence, *refusal.reasons]))
    return redirect("plan", episode_id)
