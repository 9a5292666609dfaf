"""The Floor's page and what its script asks for. Facts and advice go through the API (api.record)."""

from __future__ import annotations

from typing import Any
from uuid import UUID

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET, require_POST

from checklists.floor.answers import answered, sent
from checklists.floor.others import CHOSEN, MoveForm, others_than
from checklists.floor.page import floor_page
from checklists.floor.state import floor_state, is_theirs, of_floor
from checklists.person.services import note_opened, note_taken
from checklists.record.moving import move_entries
from clinic import clock
from clinic.web.entrance import poll
from clinic.web.forms import signed_in
from clinic.web.kept_on_device import carries_on, kept_on_device

TAKEN_ALONG = "X-Taken-Along"  # a tablet fetches the page before anybody opens it (static/checklists/js/along.js)


@kept_on_device
@carries_on
@require_GET
def floor(request: HttpRequest, episode_id: UUID) -> HttpResponse:
    """The page that stays open in the gym. Opening it leaves a trail row, taking it along another."""
    page = floor_page(signed_in(request), episode_id, at=clock.now())
    if TAKEN_ALONG in request.headers:
        note_taken(actor=signed_in(request), episode_id=episode_id)
    else:
        note_opened(actor=signed_in(request), episode_id=episode_id, page="floor")
    return render(request, "floor/floor.html", page)


@require_GET
def taken_over(request: HttpRequest, episode_id: UUID) -> HttpResponse:
    """Where a colleague goes on who was handed the tablet here: this person where they may, their own day where not.
    What they are told then is the same of everybody, and of nobody: no name, not even that there is such a person."""
    if is_theirs(signed_in(request), episode_id, at=clock.now()):
        return redirect("floor", episode_id)
    messages.info(
        request,
        _(
            "The person that this device was open at is not yours to see, so this is your own day. Nothing is lost:"
            " an open session stays open with whoever passed the device on."
        ),
    )
    return redirect("today")


@poll
@require_GET
@answered
def state(request: HttpRequest, episode_id: UUID) -> dict[str, Any]:
    """The state of the record, asked after every act and once a minute; asking is no sign that anybody is there."""
    actor, at = signed_in(request), clock.now()
    return floor_state(of_floor(actor, episode_id, at=at), at=at, role=actor.stamped_role(at.date()))


@require_GET
@answered
def others(request: HttpRequest, episode_id: UUID) -> dict[str, Any]:
    """The people to whom a fact could belong that was recorded on the wrong one."""
    actor, at = signed_in(request), clock.now()
    of_floor(actor, episode_id, at=at)
    return {"people": others_than(actor, episode_id, at=at)}


@require_POST
@answered
def move(request: HttpRequest, episode_id: UUID) -> dict[str, Any]:
    """Recorded on the wrong person: struck out here and recorded there, or neither."""
    asked = MoveForm(sent(request))
    moved = move_entries(actor=signed_in(request), from_episode=episode_id, reason=CHOSEN, **asked.fields())
    return {"moved": len(moved.ids)}
