"""A part in place of another, and the first knee: the fact of the record and the part in the register, in one
transaction."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date
from typing import Any
from uuid import UUID

import orjson
from django.db import transaction
from django.utils.translation import gettext as _

from caseload.prosthesis.models import Component, PartKind, Prosthesis
from caseload.prosthesis.selectors import part_words
from caseload.prosthesis.steps import Corrected, Fitted, correct_part, fit_part, theirs
from checklists.episode.changing import Told, Written, locked, record_change
from checklists.record.models import EntryContent
from clinic import clock
from clinic.errors import Conflict, NotFound
from clinic.staff.models import Staff


@dataclass(frozen=True, slots=True)
class Exchanged:
    """The fact that was written, if one was, and the part as the register has it now, if it has it now: fitted by
    this, or corrected."""

    written: Written | None
    fitted: Fitted | None
    corrected: Corrected | None = None


@transaction.atomic(durable=True)
def exchange_part(
    *,
    actor: Staff,
    episode_id: UUID,
    serial: str = "",
    corrects: UUID | None = None,
    struck: UUID | None = None,
    **change: Any,
) -> Exchanged:
    """A knee, socket or foot in place of another: record the change, with whatever `change_setting` takes (`to`: what
    the part is called), and put the part in the register, worn from the day of the change.

    Where no such prosthesis is registered it is a fact alone; so is what waits for a clinic lead, and a part that the
    register has already. Sent twice it is one exchange.

    `corrects`: the part that the register has of this very exchange, recorded again or at last: it is called what the
    record now says, and no other is fitted. `struck`: the fact in whose place this one stands; its reason is why.
    """
    at, told = clock.now(), Told(**change)
    name = told.to
    written = record_change(actor, episode_id, replace(told, to=part_words(name, serial)), at=at)
    which = _prosthesis(episode_id, told.knee)
    if written.again or written.recorded.waits or which is None:
        return Exchanged(written, None)
    prosthesis = theirs(actor, at, pk=which)
    there = prosthesis.components.filter(pk=corrects, kind=told.setting).first() if corrects else None
    if there:
        why = {"reason": _why(episode_id, struck), "entry": str(written.entry)}
        done = correct_part(there, actor=actor, at=at, description=name, serial=serial, why=why)
        return Exchanged(written, None, done)
    if _has(prosthesis, told.setting, name, serial):
        return Exchanged(written, None)
    since = clock.local_day(told.made or at, prosthesis.episode.site.time_zone)
    part = fit_part(prosthesis, actor=actor, at=at, kind=told.setting, description=name, serial=serial, since=since)
    return Exchanged(written, part)


@transaction.atomic(durable=True)
def fit_first_knee(
    *,
    actor: Staff,
    episode_id: UUID,
    to: str,
    features: Sequence[str],
    serial: str = "",
    since: date | None = None,
    **change: Any,
) -> Exchanged:
    """The first knee of a prosthesis: put it in the register, and record what it has where the record says otherwise or
    nobody has said it yet. What the record has already is not changed to itself: nothing is set back by that."""
    at = clock.now()
    told = Told(to=part_words(to, serial), features=features, **{**change, "setting": PartKind.KNEE.value})
    which = _prosthesis(episode_id, told.knee)
    head = locked(episode_id)
    if which is None or head is None:
        raise NotFound(_("Register the prosthesis first."))
    known = head.episode.knee
    written = None
    if known is None or set(known) != set(features):
        written = record_change(actor, episode_id, told, at=at)
    if written and (written.again or written.recorded.waits):
        return Exchanged(written, None)
    prosthesis = theirs(actor, at, pk=which)
    if _has(prosthesis, PartKind.KNEE, to, serial):
        return Exchanged(written, None)
    if prosthesis.components.filter(kind=PartKind.KNEE, period__isempty=False).exists():
        raise Conflict(_("A knee is in the register already: begin again at the Bench."))
    part = fit_part(prosthesis, actor=actor, at=at, kind="knee", description=to, serial=serial, since=since)
    return Exchanged(written, part)


def _why(episode_id: UUID, struck: UUID | None) -> str:
    """Why a fact was struck out; of none, that a part is called what the record says."""
    strikes = EntryContent.objects.filter(entry__episode=episode_id, entry__kind="struck_out")
    facts = (orjson.loads(body) for body in strikes.values_list("body", flat=True))
    return next((fact["reason"][:400] for fact in facts if fact["entry"] == str(struck)), "as recorded")


def _prosthesis(episode_id: UUID, side: str | None) -> UUID | None:
    """The only one of an episode, or that of a side; nothing where the register has none such."""
    rows = Prosthesis.objects.filter(episode=episode_id, **({"side": side} if side else {}))
    keys = list(rows.values_list("pk", flat=True)[:2])
    return keys[0] if len(keys) == 1 else None


def _has(prosthesis: Prosthesis, kind: str, description: str, serial: str) -> bool:
    """Whether this very part is worn already, by the register."""
    worn = Component.objects.filter(prosthesis=prosthesis, kind=kind, period__endswith__isnull=True)
    return worn.filter(description=description.strip(), serial=serial.strip()).exists()
