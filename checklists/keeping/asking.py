"""Asking that the record be corrected, and answering: both are facts of the record, and change nothing by
themselves."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any
from uuid import UUID, uuid4

from django.db import transaction
from django.utils.translation import gettext as _

from caseload.models import Episode
from caseload.person.erased import unless_erased
from caseload.writes import because
from checklists.keeping.corrections import Correction, corrections_of
from checklists.record import steps as record
from checklists.record.models import Entry, Head
from checklists.record.one import fact, happened, write_one
from checklists.record.reception import Reception
from checklists.record.verdict import Recorded
from checklists.words import said as told
from clinic import access, clock
from clinic.access import Action
from clinic.audit.models import Origin
from clinic.audit.trail import came_from
from clinic.errors import Conflict, Invalid, NotFound
from clinic.outbox.post import publish
from clinic.staff.models import Staff


@dataclass(frozen=True, slots=True)
class Said:
    """The fact that was written."""

    entry: UUID
    recorded: Recorded


@transaction.atomic(durable=True)
def ask_correction(
    *,
    actor: Staff,
    episode_id: UUID,
    text: str,
    asked_by: str,
    target: UUID | None = None,
    entry_id: UUID | None = None,
) -> Said:
    """Write down that somebody says that the record is wrong: what, and who says so. The leads hear of it.

    `target`: the entry that is said to be wrong, where there is one. Sent twice with one `entry_id` it is one request.
    """
    at = clock.now()
    _episode(actor, Action.ASK_CORRECTION, episode_id, at)
    entry_id = entry_id or uuid4()
    if target is not None and not Entry.objects.filter(episode=episode_id, id=target).exists():
        raise Invalid(_("That entry is not in this person's record."), reasons=["entry: not here"])
    request = fact(
        "correction_requested",
        happened(entry_id, episode_id, at),
        id_=entry_id,
        entry=str(target) if target else None,
        text=because(text, _("Say what is wrong, and what would be right.")),
        asked_by=because(asked_by, _("Say who asks: the person, or who for them.")),
    )
    recorded = write_one(actor, episode_id, request, at=at, permitted=True)
    news = {"episode": str(episode_id), "request": str(entry_id)}
    publish("correction.asked", news, at=at, dedupe_key=f"correction.asked:{entry_id}")
    return Said(entry_id, recorded)


@transaction.atomic(durable=True)
def answer_correction(
    *,
    actor: Staff,
    episode_id: UUID,
    request_id: UUID,
    answer: str,
    reason: str = "",
    strike: bool = False,
    struck: Sequence[UUID] = (),
    added: Sequence[UUID] = (),
    entry_id: UUID | None = None,
) -> Said:
    """Answer a request: agreed, with the strike-outs and entries by which it was put right, or declined with the
    reason.

    `strike`: strike the entry in question out with this very answer. Answered already: Conflict; strike the answer out
    first, and it can be answered anew.
    """
    at = clock.now()
    _episode(actor, Action.ANSWER_CORRECTION, episode_id, at)
    list(Head.objects.select_for_update(no_key=True).filter(pk=episode_id))  # two answers at once: one by one
    entry_id = entry_id or uuid4()
    request = _request(episode_id, request_id)
    if request.answered is not None and request.answered.entry == entry_id:
        return Said(entry_id, Recorded([], [], []))  # the form was sent twice
    if request.answered is not None:
        raise Conflict(
            _("It was answered already: {words} ({by}).").format(words=request.answered.words, by=request.answered.by)
        )
    strikes = [_strike(request, reason, at)] if strike else []
    named = [*(str(one) for one in struck), *(one["id"] for one in strikes)]
    _here(episode_id, struck, added)
    said = fact(
        "correction_answered",
        happened(entry_id, episode_id, at),
        id_=entry_id,
        request=str(request_id),
        answer=answer,
        reason=reason.strip(),
        struck=named or None,
        added=[str(one) for one in added] or None,
    )
    return Said(entry_id, _written(actor, episode_id, strikes, said, at))


def _episode(actor: Staff, action: Action, episode_id: UUID, at: datetime) -> Episode:
    rows = Episode.objects.select_related("person__site")
    episode = access.get(actor, action, rows, at=at, pk=episode_id)
    unless_erased(episode.person)
    return episode


def _request(episode_id: UUID, request_id: UUID) -> Correction:
    found = {one.entry: one for one in corrections_of([episode_id]).get(episode_id, [])}
    request = found.get(request_id)
    if request is None:
        raise NotFound(_("Nobody asked for this here. Check the link."))
    if request.withdrawn:
        raise Conflict(_("This request was struck out: there is nothing to answer."))
    return request


def _strike(request: Correction, reason: str, at: datetime) -> dict[str, Any]:
    if not request.target:
        raise Invalid(_("The request names no entry that could be struck out."), reasons=["strike: no entry"])
    why = reason.strip() or f"As {request.asked_by} asked: {request.text}"
    return fact("struck_out", at, entry=request.target, reason=why[:4_000])


def _here(episode_id: UUID, struck: Sequence[UUID], added: Sequence[UUID]) -> None:
    """What an answer names stands in this record: strike-outs, and entries that are none."""
    rows = Entry.objects.filter(episode=episode_id)
    strikes = set(rows.filter(id__in=struck, kind="struck_out").values_list("id", flat=True))
    others = set(rows.filter(id__in=added).exclude(kind="struck_out").values_list("id", flat=True))
    if strikes != set(struck):
        raise Invalid(_("Name strike-outs of this person's record."), reasons=["struck: not here"])
    if others != set(added):
        raise Invalid(_("Name entries of this person's record."), reasons=["added: not here"])


def _written(
    actor: Staff, episode_id: UUID, strikes: Sequence[dict[str, Any]], said: dict[str, Any], at: datetime
) -> Recorded:
    """The strike-out and the answer as one arrival: both, or neither with the reason."""
    if not strikes:
        return write_one(actor, episode_id, said, at=at, permitted=True)
    recorded = record.receive(
        Reception(actor, at, Origin(came_from().door), by_service=True), episode_id, [*strikes, said]
    )
    errors = [one.error or "" for one in recorded.verdicts if one.outcome in ("refused", "held")]
    if errors:
        raise Invalid(_("Nothing was done: ") + " ".join(told(one) for one in errors), reasons=errors)
    return recorded
