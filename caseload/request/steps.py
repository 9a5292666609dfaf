"""Inner steps about adjustment requests, for the service that records the change. They open no transaction."""

from __future__ import annotations

from datetime import datetime
from uuid import UUID

from django.utils.translation import gettext as _

from caseload.request.models import AdjustmentRequest, RequestState
from caseload.writes import fit, unless_stale
from clinic import access
from clinic.access import Action
from clinic.audit import trail
from clinic.errors import Conflict
from clinic.outbox.post import publish
from clinic.staff.models import Staff

OPEN = (RequestState.ASKED, RequestState.SEEN)


def open_request(actor: Staff, action: Action, request_id: UUID, version: int, *, at: datetime) -> AdjustmentRequest:
    """A request, locked, as the caller saw it. Changed meanwhile: Stale, with what changed. Answered: Conflict."""
    rows = AdjustmentRequest.objects.select_for_update(no_key=True, of=("self",))
    rows = rows.select_related("episode__site", "episode__person", "asked_by", "done_by")
    request = access.get(actor, action, rows, at=at, pk=request_id)
    unless_stale(request, version, "request", zone=request.episode.site.time_zone)
    if request.state not in OPEN:
        who = request.done_by.name if request.done_by else "somebody"
        raise Conflict(
            _("{who} has answered this request already ({state}).").format(who=who, state=request.get_state_display())
        )
    return request


def answer(
    request: AdjustmentRequest, state: str, *, actor: Staff, at: datetime, text: str = "", entry: UUID | None = None
) -> None:
    """Close a locked request: done, with the fact that answers it (`entry`), or declined, with the reason."""
    request.state, request.done_by, request.done_at = state, actor, at
    request.answer, request.entry, request.version = text.strip(), entry, request.version + 1
    if request.seen_at is None:
        request.seen_by, request.seen_at = actor, at
    fit(request)
    request.save()
    detail = {"version": request.version}
    trail.record(actor, f"request.{state}", "request", request.pk, at=at, episode=request.episode_id, detail=detail)
    news = {
        "episode": str(request.episode_id),
        "reference": request.episode.reference,
        "request": str(request.pk),
        "state": str(state),
        "staff": str(request.asked_by_id),
    }
    publish("request.answered", news, at=at, dedupe_key=f"request.answered:{request.pk}")
