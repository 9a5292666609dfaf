"""What its author does with a sealed mark: records it under their own name, or drops it with a reason."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime
from itertools import groupby
from operator import itemgetter
from uuid import UUID

from django.db import transaction
from django.utils.translation import gettext as _

from checklists.record.services import record_entries
from checklists.record.verdict import Verdict
from checklists.sealed.models import Outcome, SealedMark
from checklists.sealed.reading import Content, content_for
from clinic import clock
from clinic.audit import trail
from clinic.errors import Invalid, NotFound, Refusal
from clinic.staff.models import Staff

LONGEST = 400


@dataclass(frozen=True, slots=True)
class Settled:
    """How many went into the record, how many wait for a lead, how many it did not take."""

    recorded: int
    held: int
    refused: int


def record_marks(*, actor: Staff, ids: Iterable[UUID]) -> Settled:
    """Record some of the actor's own sealed marks, in the order in which they happened, a person at a time.

    They go the one way into the record, under the actor's name, with the ids and instants that they were made with: a
    mark that got there after all is the same mark. What is not taken stays, with the reason.
    """
    found = [(row, content) for row in _own(actor, ids) if (content := content_for(actor, row)) is not None]
    found.sort(key=lambda one: (str(one[1].episode_id), str(one[1].entry.get("at")), one[1].entry.get("seq") or 0))
    outcomes: list[str] = []
    for episode_id, group in groupby(found, key=lambda one: one[1].episode_id):
        rows = list(group)
        verdicts = _verdicts(actor, episode_id, [content for _row, content in rows])
        outcomes += _settle(actor, [row for row, _content in rows], verdicts)
    return Settled(outcomes.count("recorded"), outcomes.count("held"), outcomes.count("refused"))


@transaction.atomic(durable=True)
def drop_mark(*, actor: Staff, mark_id: UUID, reason: str) -> None:
    """Do not record it: what it said goes, that it was dropped and why stays. Dropped already: nothing happens."""
    row = SealedMark.objects.select_for_update().filter(author=actor, pk=mark_id).first()
    if row is None:
        raise NotFound(_("There is no such mark."))
    if row.settled_at is not None:
        return
    if not reason.strip():
        raise Invalid(_("Say why it is not to be recorded. It will be read later."))
    _close(row, Outcome.DROPPED, clock.now(), reason.strip()[:LONGEST])
    detail = {"mark": row.mark, "reason": row.reason}
    trail.record(actor, "sealed.dropped", "sealed_mark", row.pk, at=clock.now(), episode=row.episode_id, detail=detail)


def _own(actor: Staff, ids: Iterable[UUID]) -> list[SealedMark]:
    return list(SealedMark.objects.filter(author=actor, settled_at__isnull=True, pk__in=list(ids)))


def _verdicts(actor: Staff, episode_id: UUID, contents: Sequence[Content]) -> list[Verdict]:
    """One for each; a person who is not the actor's any more refuses all of theirs."""
    entries = [content.entry for content in contents]
    judged = {content.entry["id"]: content.judged for content in contents if content.judged is not None}
    try:
        return record_entries(actor=actor, episode_id=episode_id, entries=entries, judged=judged or None).verdicts
    except Refusal as refusal:
        return [Verdict(str(content.entry["id"]), "refused", str(refusal.sentence)) for content in contents]


@transaction.atomic(durable=True)
def _settle(actor: Staff, rows: Sequence[SealedMark], verdicts: Sequence[Verdict]) -> list[str]:
    """Account for what the record said. It may be done twice: the record knows its marks again."""
    at = clock.now()
    told: list[tuple[str, str]] = []
    for row, verdict in zip(rows, verdicts, strict=True):
        outcome = {"accepted": "recorded", "repeated": "recorded"}.get(verdict.outcome, verdict.outcome)
        told.append((outcome, row.mark))
        if outcome == "refused":
            SealedMark.objects.filter(pk=row.pk).update(error=(verdict.error or "")[:LONGEST])
        else:
            _close(row, Outcome(outcome), at)
    detail = {outcome: [mark for said, mark in told if said == outcome] for outcome in sorted({one for one, _ in told})}
    episode_id = rows[0].episode_id
    trail.record(actor, "sealed.recorded", "staff", actor.reference, at=at, episode=episode_id, detail=detail)
    return list(map(itemgetter(0), told))


def _close(row: SealedMark, outcome: Outcome, at: datetime, reason: str = "") -> None:
    row.outcome, row.reason, row.settled_at = outcome, reason, at
    row.enc = row.box = b""  # what it says stands in the record, or is not to be kept
    row.save(update_fields=["outcome", "reason", "settled_at", "enc", "box"])
