"""The first page of who works in the gym."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_GET

from checklists.today import evening, selectors
from clinic import access, clock
from clinic.access import Action
from clinic.web.forms import signed_in
from clinic.web.kept_on_device import kept_on_device
from clinic.web.shell import first_page


@kept_on_device
@require_GET
def today(request: HttpRequest) -> HttpResponse:
    """The day of a therapist, an assistant or a lead; everybody else is led to the page that their work begins on."""
    actor, at = signed_in(request), clock.now()
    if access.reach(actor, Action.RECORD, at) is None:
        return redirect(first_page(actor, at))
    return render(request, "today/today.html", {"page": selectors.today(actor, at=at)})


@kept_on_device
@require_GET
def day_end(request: HttpRequest) -> HttpResponse:
    """What is unsigned, unproven, unsent and unanswered when the day ends."""
    return render(request, "today/evening.html", {"page": evening.evening(signed_in(request), at=clock.now())})
