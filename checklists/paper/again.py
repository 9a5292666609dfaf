"""Something that was recorded wrongly, or refused, as a row to be entered again: with its day, time and fields."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass, replace
from datetime import date, datetime
from typing import Any
from uuid import UUID
from zoneinfo import ZoneInfo

import orjson
from django.utils.translation import gettext as _

from checklists.paper import layout
from checklists.person.facts import happened_at
from checklists.record.models import EntryContent
from checklists.record.selectors import refused_entries
from checklists.words import said
from clinic.language.tags import speaking_to
from clinic.staff.models import Staff
from clinic.web.tags import moment


@dataclass(frozen=True, slots=True)
class Again:
    """What is entered again: its day, its row (field → value), and of what was refused its number, who sent it and
    why it was not taken. `told`: the row's words begin with whose account it is, because the reader did not send it."""

    day: date
    row: Mapping[str, Any]
    refused: UUID | None = None
    sender: Staff | None = None
    why: str = ""
    told: bool = False


def again(actor: Staff, episode_id: UUID, asked: str, zone: str, *, at: datetime) -> Again | None:
    """What is asked for by its id: an entry of this person's record, or what was refused of it and is the actor's to
    see. Nothing where there is none, or it is nothing that a sheet has a row for."""
    try:
        key = UUID(asked)
    except ValueError:
        return None
    own = EntryContent.objects.filter(entry__episode=episode_id, entry__id=key).values_list("body", flat=True).first()
    if own is not None:
        return _again(orjson.loads(own), zone)
    row = refused_entries(actor, at=at).filter(episode=episode_id, pk=key).first()
    if row is None:
        return None
    try:
        sent = _again(orjson.loads(row.raw), zone)
    except orjson.JSONDecodeError:
        return None
    if sent is None:
        return None
    sent = replace(sent, refused=row.pk, sender=row.sender, why=said(row.error))
    return sent if row.sender == actor else _as_told(sent, row.sender.name)


def entered_meanwhile(actor: Staff, episode_id: UUID, asked: str, rows: Collection[object], *, at: datetime) -> str:
    """That what was refused has been entered again by another row than these: when, and by whom; else nothing."""
    try:
        found = refused_entries(actor, at=at, settled=True).filter(episode=episode_id, pk=UUID(asked))
    except ValueError:
        return ""
    row = found.select_related("settled_by").first()
    if row is None or row.settled_by is None or row.again_as is None or str(row.again_as) in rows:
        return ""
    words = _("It was entered again on {day} by {name}. What is something else goes into a sheet of its own.")
    return words.format(day=moment(row.settled_at), name=row.settled_by.name)


def _as_told(sent: Again, name: str) -> Again:
    """An entry stands under the name of whoever enters it (SEMANTICS.md §1): its words say whose account it is, in the
    language of the record, and can be changed."""
    if not layout.has_words(str(sent.row.get("kind"))):
        return sent
    with speaking_to(""):
        told = _("As told by {name}.").format(name=name)
    return replace(sent, row={**sent.row, "note": f"{told} {sent.row.get('note', '')}".strip()}, told=True)


def _again(sent: Any, zone: str) -> Again | None:
    happened = happened_at(sent) if isinstance(sent, Mapping) else None
    if happened is None:
        return None
    local = happened.astimezone(ZoneInfo(zone))
    return Again(local.date(), {**_row(sent), "time": local.time()})


def _row(sent: Mapping[str, Any]) -> dict[str, Any]:
    """The fields of the row, the other way round than facts.fact_of: what cannot be read stays empty."""
    own = {"check": sent.get("name"), "mode_set": sent.get("mode")}.get(str(sent.get("kind")))
    row = {key: sent.get(key) for key in ("skill", "support", "help", "result", "deviations", "injury", "knee")}
    steps, measures = sent.get("steps"), sent.get("measures")
    if isinstance(steps, Mapping):
        row |= {f"mark_{step}": "good" if good else "bad" for step, good in steps.items() if isinstance(good, bool)}
    if isinstance(measures, Mapping) and len(measures) == 1:
        row["measure"], row["value"] = next(iter(measures.items()))
    row["kind"] = f"{sent.get('kind')}:{own}" if own else sent.get("kind")
    row["note"] = " · ".join(str(sent[key]) for key in ("circumstances", "action", "note") if sent.get(key))
    return {key: value for key, value in row.items() if value not in (None, "", [])}
