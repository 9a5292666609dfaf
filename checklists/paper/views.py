"""The sheets for a day without power: made ready to print, and entered afterwards."""

from __future__ import annotations

from uuid import UUID

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_GET, require_http_methods

from checklists.paper.entering import entered, entering
from checklists.paper.sheet import sheet_of, sheets_of_a_day
from checklists.person.services import note_all_printed, note_opened
from checklists.today.coming import days_ahead
from clinic import clock
from clinic.web.forms import signed_in
from clinic.web.kept_on_device import kept_on_device

WHAT = "sheet for a day without power"


@kept_on_device
@require_GET
def of_a_day(request: HttpRequest) -> HttpResponse:
    """A sheet for everybody who comes today, or on the one of the next days that is asked for; each person on it gets a
    trail row."""
    actor, at = signed_in(request), clock.now()
    days = days_ahead(actor, at=at)
    day = next((one for one in days if one.isoformat() == request.GET.get("day")), days[0])
    sheets = sheets_of_a_day(actor, day, at=at)
    note_all_printed(actor=actor, episodes=[sheet.episode.pk for sheet in sheets], what=WHAT)
    return render(request, "paper/sheets.html", {"sheets": sheets, "at": at, "who": actor, "day": day, "days": days})


@kept_on_device
@require_GET
def one(request: HttpRequest, episode_id: UUID) -> HttpResponse:
    """The sheet of one person; that leaves a trail row."""
    actor, at = signed_in(request), clock.now()
    sheets = sheet_of(actor, episode_id, at=at)
    note_all_printed(actor=actor, episodes=[episode_id], what=WHAT)
    shown = {"sheets": sheets, "at": at, "who": actor, "episode_id": episode_id}
    return render(request, "paper/sheets.html", shown)


@require_http_methods(["GET", "HEAD", "POST"])
def enter(request: HttpRequest, episode_id: UUID) -> HttpResponse:
    """A sheet entered afterwards, several rows at once; asking for more rows records nothing. `again`: one row,
    in which stands what was struck out or refused; that leaves a trail row."""
    actor, sent = signed_in(request), request.POST if request.method == "POST" else None
    page = entering(actor, episode_id, sent, at=clock.now(), asked=request.GET.get("again", ""))
    if page.again and sent is None:
        note_opened(actor=actor, episode_id=episode_id, page="enter again")
    if sent is not None and "more" not in sent:
        page = entered(actor, page)
    return render(request, "paper/enter.html", {"page": page, "who": actor})
