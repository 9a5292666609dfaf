"""Who looked at this person: a page for the records officer, and the print for the person who asks."""

from __future__ import annotations

from datetime import timedelta

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from caseload.looked.forms import LooksForm
from caseload.looked.services import list_looks
from clinic import access, clock
from clinic.access import Action
from clinic.errors import NotFound
from clinic.web.forms import signed_in

YEAR = timedelta(days=365)


@require_http_methods(["GET", "POST"])
def looks(request: HttpRequest) -> HttpResponse:
    """The question, and under it the answer once it was asked. Asked by POST: a number stands in no address."""
    actor, at = signed_in(request), clock.now()
    access.permit(actor, Action.SEE_TRAIL, at)
    today = timezone.localtime(at).date()
    form = LooksForm(request.POST or None, initial={"first": today - YEAR, "last": today})
    found = None
    if form.is_bound and form.is_valid():
        try:
            found = list_looks(actor=actor, **form.cleaned_data)
        except NotFound as nobody:
            form.add_error("number", nobody.sentence)
    return render(request, "caseload/looks.html", {"form": form, "found": found, "at": at})
