"""Writing one fact that a service makes itself: whoever asked for it wants a sentence, not a verdict."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from datetime import datetime
from typing import Any
from uuid import UUID, uuid4
from zoneinfo import ZoneInfo

import orjson
from django.utils.translation import gettext as _

from caseload.episode.models import Episode
from checklists.record import steps
from checklists.record.models import Entry, EntryContent
from checklists.record.reception import Reception
from checklists.record.verdict import Recorded
from checklists.words import said
from clinic.audit.models import Origin
from clinic.audit.trail import came_from
from clinic.errors import Invalid
from clinic.staff.models import Staff


def stamp(at: datetime) -> str:
    """An instant as the record writes it, with the offset that it is given in."""
    return at.isoformat().replace("+00:00", "Z")


def fact(kind: str, at: datetime, *, id_: UUID | None = None, **fields: Any) -> dict[str, Any]:
    """A fact as it travels. Fields that are empty are left out."""
    given = {name.rstrip("_"): value for name, value in fields.items() if value not in (None, "")}
    return {"id": str(id_ or uuid4()), "kind": kind, "at": stamp(at), **given}


def _as_first_sent(episode_id: UUID, entry: Mapping[str, Any]) -> Mapping[str, Any]:
    """A form that is sent twice means the same fact, although the clock has moved on: it keeps the instant of the
    first."""
    body = EntryContent.objects.filter(entry__id=entry["id"], entry__episode=episode_id).values_list("body", flat=True)
    first = body.first()
    return {**entry, "at": orjson.loads(first)["at"] if first is not None else _at_site(episode_id, entry["at"])}


def _at_site(episode_id: UUID, at: str) -> str:
    """The same instant with the site's offset: calendar dates are read as they are written (SEMANTICS.md §4)."""
    zone = Episode.objects.filter(pk=episode_id).values_list("site__time_zone", flat=True).first()
    return stamp(datetime.fromisoformat(at).astimezone(ZoneInfo(zone))) if zone else at


def write_one(
    actor: Staff,
    episode_id: UUID,
    entry: Mapping[str, Any],
    *,
    at: datetime,
    permitted: bool,
    may_wait: bool = False,
    settles: Collection[UUID] | None = None,
) -> Recorded:
    """Write one fact in the caller's transaction; Invalid with the reason where it is not taken.

    `permitted`: the service has asked already; otherwise the write path asks for what the kind needs. `may_wait`: a
    fact that a clinic lead must let in is kept until then; otherwise that is Invalid too. `settles`: as in Reception.
    """
    entry = _as_first_sent(episode_id, entry)
    reception = Reception(actor, at, Origin(came_from().door), by_service=permitted, settles=settles)
    recorded = steps.receive(reception, episode_id, [entry])
    verdict = recorded.verdicts[0]
    if verdict.outcome == "refused" or (verdict.outcome == "held" and not may_wait):
        raise Invalid(
            _("This cannot be recorded: {error}").format(error=said(verdict.error or "")), reasons=[verdict.error or ""]
        )
    return recorded


def happened(entry_id: UUID, episode_id: UUID, at: datetime) -> datetime:
    """When a fact of this id happened: now, or when it was first sent. So a form that is sent twice says the same
    twice."""
    return Entry.objects.filter(id=entry_id, episode_id=episode_id).values_list("at", flat=True).first() or at
