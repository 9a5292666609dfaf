"""The Caseload page, and assigning from the waiting list."""

from __future__ import annotations

from functools import partial
from uuid import UUID

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET

from caseload.load.candidates import candidates_for, given_to, widest
from caseload.referral.selectors import waiting_referral
from checklists.episode.services import open_episode
from checklists.lead.forms import AssignForm
from checklists.lead.handover import handover_sheet
from checklists.lead.selectors import caseload_page
from checklists.lead.services import note_handover
from checklists.today.rows import feature_words
from clinic import clock
from clinic.web.acts import Act, answer, offer
from clinic.web.forms import signed_in


@require_GET
def caseload(request: HttpRequest) -> HttpResponse:
    """Who waits, who carries what, what is overdue."""
    return render(request, "lead/caseload.html", {"page": caseload_page(signed_in(request), at=clock.now())})


@require_GET
def handover(request: HttpRequest, staff_id: UUID | None = None) -> HttpResponse:
    """What a colleague must know who takes over; one's own sheet where nobody is named."""
    actor, at = signed_in(request), clock.now()
    sheet = handover_sheet(actor, staff_id or actor.pk, at=at)
    note_handover(actor=actor, staff_id=staff_id or actor.pk, people=len(sheet.people))
    return render(request, "lead/handover.html", {"sheet": sheet, "at": at})


def assign(request: HttpRequest, referral_id: UUID) -> HttpResponse:
    """Give somebody who waits to a therapist: that opens their episode."""
    actor, at = signed_in(request), clock.now()
    row = waiting_referral(actor, referral_id, at=at)
    who = candidates_for(actor, knee=row.features, side=row.side, site_id=row.site_id, at=at)
    act = Act(
        title=_("Assign {name}").format(name=row.name),
        submit=_("Assign and open the episode"),
        back=reverse("caseload"),
        over=f"{row.number} · {row.second_identifier} · {row.site}",
        done=given_to(row.name, who, request.POST.get("therapist_id")),
        template="lead/assign.html",
        extra={
            "row": row,
            "knee": feature_words(row.features),
            "candidates": who,
            "widest": widest(who),
            "pick": "therapist_id",
        },
    )
    form = AssignForm(request.POST or None, initial={"therapist_id": request.GET.get("to"), "version": row.version})
    offer(form, "therapist_id", [(one.load.staff_id, one.words) for one in who])
    do = partial(open_episode, actor=actor, referral_id=referral_id)
    fresh = lambda: waiting_referral(actor, referral_id, at=at).version  # noqa: E731 - passed on as it is
    return answer(request, act, form, do, fresh=fresh)
