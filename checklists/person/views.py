"""People, one person, and the page that the person takes home."""

from __future__ import annotations

from uuid import UUID

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_GET, require_http_methods

from caseload.looked.selectors import who_tells
from checklists.floor.state import is_theirs
from checklists.person import cleared as printed
from checklists.person import selectors
from checklists.person.services import note_opened, note_printed
from clinic import access, clock
from clinic.access import Action, Scope
from clinic.language import tags
from clinic.web.forms import signed_in
from clinic.web.kept_on_device import kept_where
from clinic.web.limits import limited


@limited("search")
@require_http_methods(["GET", "HEAD", "POST"])
def people(request: HttpRequest) -> HttpResponse:
    """The people within one's scope, all or by name, number or second identifier.

    Whom somebody looks for is sent in the body: an address is kept by browsers and proxies.
    """
    actor, at = signed_in(request), clock.now()
    access.permit(actor, Action.SEE_PERSON, at)
    text, closed = request.POST.get("named", "")[:80], "closed" in request.GET
    found = selectors.people(actor, text, at=at, closed=closed)
    shown = {"people": found, "text": text, "closed": closed, "door": selectors.door_of(actor, at=at, closed=closed)}
    shown["own"] = access.reach(actor, Action.SEE_PERSON, at) is Scope.OWN
    shown["waits"] = not closed and access.reach(actor, Action.SEE_CASELOAD, at) is not None
    shown["emergency"] = access.reach(actor, Action.OPEN_EMERGENCY, at) is not None
    return render(request, "person/people.html", shown)


def may_record(request: HttpRequest, episode_id: UUID) -> bool:
    """Whether the page may stay on the reader's device: not for whoever reads in an emergency, say."""
    return is_theirs(signed_in(request), episode_id, at=clock.now())


@kept_where(may_record)
@require_GET
def person(request: HttpRequest, episode_id: UUID) -> HttpResponse:
    """One person. Opening the page leaves a trail row; older pages of the timeline do not open it again."""
    actor, before = signed_in(request), request.GET.get("before", "")
    page = selectors.person_page(actor, episode_id, at=clock.now(), before=before)
    if not before:
        note_opened(actor=actor, episode_id=episode_id, page="person")
    return render(request, "person/person.html", {"page": page, "told": who_tells(actor, at=clock.now())})


@require_GET
def cleared(request: HttpRequest, episode_id: UUID) -> HttpResponse:
    """What the person is cleared to do and how, made ready to print, in the person's language; that leaves
    a trail row. With `mine` in the reader's own, to read."""
    actor = signed_in(request)
    page, tongue = printed.cleared(actor, episode_id, at=clock.now(), mine="mine" in request.GET)
    if tongue.mine:
        note_opened(actor=actor, episode_id=episode_id, page="person")
    else:
        note_printed(actor=actor, episode_id=episode_id, what="cleared to do")
    with tags.speaking_to(tongue.code):
        answer = render(request, "person/cleared.html", {"page": page, "tongue": tongue})
    answer.headers["Content-Language"] = tags.written(tongue.code)
    return answer
