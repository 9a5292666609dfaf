"""The page that opens a record in an emergency, and the lead's pages that judge it."""

from __future__ import annotations

from functools import partial
from uuid import UUID

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy
from django.views.decorators.http import require_GET

from caseload.emergency import selectors
from caseload.emergency.forms import JudgeForm, OpenForm
from caseload.emergency.services import judge_emergency, open_emergency
from clinic import access, clock
from clinic.access import Action
from clinic.web.acts import Act, answer
from clinic.web.forms import signed_in

LEAD = gettext_lazy(
    "For when somebody's safety needs it and the person is not in your care. You can read for "
    "one hour, and change nothing."
)
CAUTION = gettext_lazy(
    "The clinic leads are told at once. What you open stands in the trail, and a lead looks at "
    "it afterwards. Local policy says when this is right; where a life is in danger, call the "
    "emergency services first."
)


def emergency(request: HttpRequest) -> HttpResponse:
    """Ask for it; afterwards the person stands under People for an hour."""
    actor, at = signed_in(request), clock.now()
    access.permit(actor, Action.OPEN_EMERGENCY, at)
    act = Act(
        title=_("Emergency access"),
        submit=_("Open the record"),
        back=reverse("emergency"),
        lead=LEAD,
        caution=CAUTION,
        done=_("The record is open to you for one hour."),
        template="caseload/emergency.html",
        extra={"running": selectors.running(actor, at=at)},
    )
    return answer(request, act, OpenForm(request.POST or None), partial(open_emergency, actor=actor))


@require_GET
def emergencies(request: HttpRequest) -> HttpResponse:
    """Every emergency access, those that wait for a judgement first."""
    rows = selectors.emergencies(signed_in(request), at=clock.now())
    return render(request, "caseload/emergencies.html", {"rows": rows})


def judge(request: HttpRequest, emergency_id: UUID) -> HttpResponse:
    """What was opened and why, and the lead's judgement."""
    actor, at = signed_in(request), clock.now()
    row, seen = selectors.emergency(actor, emergency_id, at=at)
    act = Act(
        title=_("Emergency access of {staff}").format(staff=row.staff.name),
        submit=_("Keep this judgement"),
        back=reverse("emergencies"),
        over=f"{row.episode.person.full_name} · {row.episode.person.number} · {row.episode.reference}",
        template="caseload/emergency_judge.html",
        extra={"row": row, "seen": seen},
    )
    do = partial(judge_emergency, actor=actor, emergency_id=emergency_id)
    return answer(request, act, JudgeForm(request.POST or None), do)
