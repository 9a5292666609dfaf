"""What was judged differently: a list for a lead, and a case as a file."""

from __future__ import annotations

from uuid import UUID

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_GET, require_POST

from checklists.judged import case
from checklists.judged.selectors import differences_page
from clinic import clock
from clinic.web.forms import signed_in
from clinic.web.limits import limited


@require_GET
def differences(request: HttpRequest) -> HttpResponse:
    """The cases, newest first."""
    return render(request, "judged/list.html", {"page": differences_page(signed_in(request), at=clock.now())})


@limited("export")
@require_POST
def take(request: HttpRequest, difference_id: UUID) -> HttpResponse:
    """One case as a file."""
    taken = case.take_case(actor=signed_in(request), difference_id=difference_id)
    headers = {"Content-Disposition": f'attachment; filename="{taken.name}"', "Cache-Control": "no-store"}
    return HttpResponse(taken.content, content_type="application/zip", headers=headers)
