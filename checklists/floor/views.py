"""The Floor's page and what its script asks for."""

from __future__ import annotations

from typing import Any
from uuid import UUID

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_GET, require_POST

from checklists.floor.advice import advice_for
from checklists.floor.answers import answered, sent
from checklists.floor.page import floor_page
from checklists.floor.state import floor_state, of_floor
from checklists.person.services import note_opened
from checklists.record.services import record_entries
from clinic import clock
from clinic.errors import Invalid
from clinic.web.entrance import poll
from clinic.web.forms import signed_in


@require_GET
def floor(request: HttpRequest, episode_id: UUID) -> HttpResponse:
    """The page that stays open in the gym. Opening it leaves a trail row."""
    page = floor_page(signed_in(request), episode_id, at=clock.now())
    note_opened(actor=signed_in(request), episode_id=episode_id, page="floor")
    return render(request, "floor/floor.html", page)


@poll
@require_GET
@answered
def state(request: HttpRequest, episode_id: UUID) -> dict[str, Any]:
    """The state of the record, asked after every act and once a minute; asking is no sign that anybody is there."""
    at = clock.now()
    return floor_state(of_floor(signed_in(request), episode_id, at=at), at=at)


@require_POST
@answered
def advice(request: HttpRequest, episode_id: UUID) -> dict[str, Any]:
    """Advice for one skill on every rung, were it tried now."""
    at, asked, actor = clock.now(), sent(request), signed_in(request)
    episode = of_floor(actor, episode_id, at=at)
    return {"advice": advice_for(episode, actor, asked.get("skill"), asked.get("pending"), at=at)}


@require_POST
@answered
def entries(request: HttpRequest, episode_id: UUID) -> dict[str, Any]:
    """Take a batch of facts; each has its own verdict."""
    batch = sent(request).get("entries")
    if not isinstance(batch, list):
        raise Invalid("entries: a list of facts is needed. Nothing was done.")
    recorded = record_entries(actor=signed_in(request), episode_id=episode_id, entries=batch)
    return {"verdicts": recorded.verdicts}
