"""What a therapist asks of the prosthetist: asked, seen, then done (see `checklists`) or declined."""

from __future__ import annotations

from uuid import UUID

from django.db import transaction
from django.utils.translation import gettext as _

from caseload.episode.closed import unless_closed
from caseload.episode.models import Episode
from caseload.request.models import AdjustmentRequest, RequestState
from caseload.request.steps import answer, open_request
from caseload.writes import because, differences, fit
from clinic import access, clock
from clinic.access import Action
from clinic.audit import trail
from clinic.outbox.post import publish
from clinic.staff.models import Staff


@transaction.atomic(durable=True)
def ask_adjustment(*, actor: Staff, episode_id: UUID, setting: str, text: str) -> AdjustmentRequest:
    """Ask for a change of a prosthesis; the bench hears of it."""
    at = clock.now()
    rows = Episode.objects.select_related("person")
    episode = access.get(actor, Action.ASK_ADJUSTMENT, rows, at=at, pk=episode_id)
    unless_closed(episode)
    request = AdjustmentRequest(episode=episode, setting=setting, text=text.strip(), asked_by=actor, asked_at=at)
    fit(request)
    request.save(force_insert=True)
    detail = {"version": 1, "setting": setting}
    trail.record(actor, "request.asked", "request", request.pk, at=at, episode=episode.pk, detail=detail)
    news = {"episode": str(episode.pk), "reference": episode.reference, "request": str(request.pk)}
    publish("request.asked", news, at=at, dedupe_key=f"request.asked:{request.pk}")
    return request


@transaction.atomic(durable=True)
def reword_request(*, actor: Staff, request_id: UUID, version: int, setting: str, text: str) -> AdjustmentRequest:
    """Change what is asked, as long as nobody has answered. Made from an older version: Stale, with what changed."""
    at = clock.now()
    request = open_request(actor, Action.ASK_ADJUSTMENT, request_id, version, at=at)
    changed = differences(request, {"setting": setting, "text": text.strip()})
    if not changed:
        return request
    fit(request)
    request.version += 1
    request.save(update_fields=[*changed, "version"])
    detail = {"version": request.version, "fields": changed}
    trail.record(actor, "request.reworded", "request", request.pk, at=at, episode=request.episode_id, detail=detail)
    return request


@transaction.atomic(durable=True)
def see_request(*, actor: Staff, request_id: UUID, version: int, note: str = "") -> AdjustmentRequest:
    """Say that the bench has read a request and will see to it. `note`: when, or with what; it stands as the answer
    until there is one. Seen already: nothing changes."""
    at = clock.now()
    request = open_request(actor, Action.ANSWER_ADJUSTMENT, request_id, version, at=at)
    if request.state == RequestState.SEEN:
        return request
    request.state, request.seen_by, request.seen_at, request.version = RequestState.SEEN, actor, at, request.version + 1
    request.answer = note.strip()
    fit(request)
    request.save(update_fields=["state", "seen_by", "seen_at", "answer", "version"])
    detail = {"version": request.version}
    trail.record(actor, "request.seen", "request", request.pk, at=at, episode=request.episode_id, detail=detail)
    return request


@transaction.atomic(durable=True)
def decline_request(*, actor: Staff, request_id: UUID, version: int, reason: str) -> AdjustmentRequest:
    """Answer a request without a change, with the reason; whoever asked hears of it."""
    at = clock.now()
    request = open_request(actor, Action.ANSWER_ADJUSTMENT, request_id, version, at=at)
    reason = because(reason, _("Say why: whoever asked will read it."))
    answer(request, RequestState.DECLINED, actor=actor, at=at, text=reason)
    return request
