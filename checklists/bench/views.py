"""The prosthetist's pages."""

from __future__ import annotations

from dataclasses import replace
from functools import partial
from typing import cast
from uuid import UUID

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET, require_POST

from caseload.request.selectors import request_of
from caseload.request.services import decline_request, see_request
from checklists.bench import selectors
from checklists.bench.deeds import deed, looked, said
from checklists.bench.forms import ChangeForm, DeclineForm
from checklists.bench.parts import Way
from checklists.bench.recent import recent_changes
from checklists.episode.exchanges import Exchanged
from checklists.person.services import note_opened
from clinic import clock
from clinic.errors import Invalid, Stale
from clinic.web.acts import Act, answer, posted_version
from clinic.web.forms import signed_in

LOOKS = frozenset({"look", "now", "earlier"})  # what shows the page as of another instant, and records nothing


@require_GET
def bench(request: HttpRequest) -> HttpResponse:
    """The queue, and the latest changes of all knees."""
    actor, at = signed_in(request), clock.now()
    page = selectors.bench(actor, at=at, earlier="earlier" in request.GET)
    return render(request, "bench/bench.html", {"page": page, "recent": recent_changes(actor, at=at)})


def change(request: HttpRequest, episode_id: UUID, request_id: UUID | None = None) -> HttpResponse:
    """One person: what a change would set back, and the change itself. `?setting=` chooses what is changed, `?side=`,
    `?new` and `?another` how they came to it; when it was made is said by the address or the form (_made)."""
    actor, at = signed_in(request), clock.now()
    page = selectors.bench(actor, at=at)
    setting, made, way = request.GET.get("setting"), _made(request), _way(request)
    work = selectors.work(actor, episode_id, at=at, request_id=request_id, setting=setting, made=made, way=way)
    if request.method == "GET":
        note_opened(actor=actor, episode_id=episode_id, page="bench")
    elif LOOKS.intersection(name for name, value in request.POST.items() if value):
        return _looked(request, _act(page, work), work)
    fresh, form = partial(_version, request, request_id), ChangeForm(request.POST or None, work=work)
    return answer(request, _act(page, work), form, deed(actor, work, request.POST), fresh=fresh, then=_ended)


def _made(request: HttpRequest) -> str:
    """When it was made, as it was typed, else as the page carries it, else as the address says."""
    if "now" in request.POST:
        return ""
    return request.POST.get("earlier") or request.POST.get("made", request.GET.get("made", ""))


def _looked(request: HttpRequest, act: Act, work: selectors.Work) -> HttpResponse:
    """The page as of another instant, with all that was typed still in it. Nothing is recorded with a time of which it
    was not shown what the change sets back then."""
    pressed = not {"look", "now"}.intersection(request.POST)
    shown = {"act": act, "form": ChangeForm.kept(request.POST, work=work), **act.extra}
    shown["not_yet"] = looked(work, pressed=pressed) if "now" not in request.POST else ""
    return render(request, act.template, shown, status=422 if shown["not_yet"] else 200)


def _way(request: HttpRequest) -> Way:
    side = request.GET.get("side", "")
    known = side if side in ("left", "right") else ""
    return Way(side=known, new="new" in request.GET, another="another" in request.GET)


def _act(page: selectors.Bench, work: selectors.Work) -> Act:
    register = f"{reverse('plan', args=[work.plan.episode_id])}#plan-devices"
    return Act(
        title=_("Bench"),
        submit=work.submit,
        back=register if work.way.new else reverse("bench"),
        template="bench/bench.html",
        extra={"page": page, "work": work},
    )


def _ended(came: Exchanged, act: Act) -> Act:
    return replace(act, done=said(cast("selectors.Work", act.extra["work"]), came))


def decline(request: HttpRequest, request_id: UUID) -> HttpResponse:
    """Answer a request without a change."""
    actor, at = signed_in(request), clock.now()
    asked = request_of(actor, request_id, at=at)
    act = Act(
        title=_("Decline, with a reason"),
        submit=_("Decline"),
        back=reverse("bench"),
        over=_("{person} · {number} · asked by {asked_by}").format(
            person=asked.person, number=asked.number, asked_by=asked.asked_by
        ),
        lead=f"{asked.setting_words.capitalize()}: {asked.text}",
        done=_("Declined. Whoever asked is told, and who leads the sessions now."),
    )
    form = DeclineForm(request.POST or None, initial={"version": asked.version})
    do = partial(decline_request, actor=actor, request_id=request_id)
    return answer(request, act, form, do, fresh=partial(_version, request, request_id))


@require_POST
def see(request: HttpRequest, request_id: UUID) -> HttpResponse:
    """Say that the bench will see to a request."""
    asked = request_of(signed_in(request), request_id, at=clock.now())
    note, version = request.POST.get("note", ""), posted_version(request)
    try:
        see_request(actor=signed_in(request), request_id=request_id, version=version, note=note)
    except (Stale, Invalid) as refusal:
        messages.error(request, " ".join([refusal.sentence, *refusal.reasons]))
    return redirect("bench_request", asked.episode_id, request_id)


def _version(request: HttpRequest, request_id: UUID | None) -> int:
    return request_of(signed_in(request), request_id, at=clock.now()).version if request_id else 0
