"""What is filled in on the page of a leave, while a cover is ended that stands in its way: kept in the session, and
shown again on the way back."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING, Any
from urllib.parse import urlencode
from uuid import UUID

from django.http import HttpRequest
from django.urls import reverse

if TYPE_CHECKING:
    from caseload.assignment.stand_ins import ToCover

KEY = "leave_typed"
LINES = ("staff_id", "first_day", "last_day", "reason", "although_away")
MOST_CHARACTERS = 400  # as the longest of the fields


def keep(request: HttpRequest, away: UUID, people: Iterable[ToCover], ending: UUID) -> None:
    """Keep what was sent of this leave, of whom and why; `ending`: whose cover is about to be ended."""
    ticked = set(request.POST.getlist("episode_ids"))
    request.session[KEY] = {
        "away": str(away),
        "ending": str(ending),
        "ticked": [key for one in people if (key := str(one.episode_id)) in ticked],
        "lines": {name: request.POST[name][:MOST_CHARACTERS] for name in LINES if request.POST.get(name)},
    }


def kept(request: HttpRequest, away: UUID) -> dict[str, Any]:
    """The same, where the address asks for it (`back_to`); nothing where it is of another leave."""
    stored: dict[str, Any] = request.session.get(KEY, {}) if "kept" in request.GET else {}
    return stored if stored.get("away") == str(away) else {}


def ticked(request: HttpRequest, away: UUID, people: Iterable[ToCover]) -> Sequence[str] | None:
    """Who is ticked as the page opens: whom its address names; else whom it kept, with whoever is free since the cover
    of theirs was ended. None: nothing is said of it."""
    if "ticked" in request.GET:
        return request.GET.getlist("episode_ids")
    if not (stored := kept(request, away)):
        return None
    freed = [str(one.episode_id) for one in people if str(one.episode_id) == stored["ending"] and not one.covers]
    return [*stored["ticked"], *freed]


def back_to(request: HttpRequest, episode_id: UUID) -> str:
    """Where the way to the end of a cover came from: a leave (`leave`: whose; empty: all of them), else the plan."""
    if "leave" not in request.GET:
        return reverse("plan", args=[episode_id])
    away = request.GET["leave"]
    return reverse("cover_leave") + (f"?{urlencode({'away': away, 'kept': ''})}" if away else "")
