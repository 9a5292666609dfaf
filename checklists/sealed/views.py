"""The page of the marks that wait for somebody, and what they do with them."""

from __future__ import annotations

from functools import partial
from uuid import UUID

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.translation import gettext as _
from django.utils.translation import ngettext
from django.views.decorators.http import require_GET, require_POST

from checklists.sealed import selectors, services
from clinic import clock
from clinic.staff.forms import Reason
from clinic.staff.tablet.lead_views import listed
from clinic.web.acts import Act, answer
from clinic.web.forms import signed_in


@require_GET
def waiting(request: HttpRequest) -> HttpResponse:
    """What was sealed on a tablet under the reader's name."""
    rows = selectors.waiting(signed_in(request), at=clock.now())
    return render(request, "sealed/waiting.html", {"rows": rows, "some": any(row.may_be_recorded for row in rows)})


@require_GET
def tablets(request: HttpRequest) -> HttpResponse:
    """The lead's list of gym tablets, with for whom sealed marks wait: how many and since when, and no more."""
    at = clock.now()
    authors = selectors.waiting_by_author(signed_in(request), at=at)
    return render(request, "sealed/tablets.html", {**listed(request, at=at), "authors": authors})


@require_POST
def record(request: HttpRequest) -> HttpResponse:
    """Record what is ticked, under the name of who looked at it."""
    done = services.record_marks(actor=signed_in(request), ids=selectors.ids_of(request.POST.getlist("mark")))
    said = ngettext("{n} mark is recorded.", "{n} marks are recorded.", done.recorded).format(n=done.recorded)
    messages.success(request, said) if done.recorded else None
    if done.held:
        messages.info(request, _("{n} came too late to be taken at once: a clinic lead looks.").format(n=done.held))
    if done.refused or not (done.recorded or done.held):
        messages.error(request, _("{n} were not taken: the reason stands beside each.").format(n=done.refused))
    return redirect("waiting_marks")


def drop(request: HttpRequest, mark_id: UUID) -> HttpResponse:
    """Not to be recorded."""
    selectors.own_mark(signed_in(request), mark_id)
    act = Act(
        title=_("Drop this mark"),
        submit=_("Drop it for good"),
        back=reverse("waiting_marks"),
        over=_("Marks you left on a tablet"),
        lead=_("What it says is gone afterwards. That there was one, and your reason, stay in the trail."),
        done=_("It is dropped."),
    )
    do = partial(services.drop_mark, actor=signed_in(request), mark_id=mark_id)
    return answer(request, act, Reason(request.POST or None), do)
