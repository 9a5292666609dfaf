"""The trail, for the records officer: read, filter, take out. Nothing can be changed."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse, StreamingHttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_GET, require_POST

from clinic import clock
from clinic.audit import selectors, services
from clinic.audit.forms import TrailFilter
from clinic.web.forms import signed_in
from clinic.web.limits import limited
from clinic.web.policy import swaps_markup


@limited("search")
@require_GET
@swaps_markup
def trail_page(request: HttpRequest) -> HttpResponse:
    """The rows, newest first."""
    actor, at = signed_in(request), clock.now()
    form = TrailFilter(request.GET, selectors.choices(actor, at=at))
    wanted = form.wanted()
    before = request.GET.get("before", "")
    cursor = int(before) if before.isdecimal() and len(before) < 19 else None
    page = selectors.trail_page(actor, wanted, at=at, before=cursor)
    return render(request, "trail/page.html", {"form": form, "page": page, "asked": request.GET.urlencode()})


@limited("export")
@require_POST
def export(request: HttpRequest) -> StreamingHttpResponse:
    """The rows that match, as CSV. A POST, since it leaves a row of its own."""
    actor, at = signed_in(request), clock.now()
    form = TrailFilter(request.GET, selectors.choices(actor, at=at))
    lines = services.export_trail(actor=actor, wanted=form.wanted())
    response = StreamingHttpResponse(lines, content_type="text/csv; charset=utf-8")
    response.headers["Content-Disposition"] = f'attachment; filename="trail-{at:%Y-%m-%d-%H%M}.csv"'
    return response
