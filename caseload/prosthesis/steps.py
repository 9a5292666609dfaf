"""Inner steps of the device register, for whoever records an exchange as well. They open no transaction."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime
from uuid import UUID

from django.db.backends.postgresql.psycopg_any import DateRange
from django.utils.translation import gettext as _

from caseload.episode.closed import unless_closed
from caseload.prosthesis.models import Component, PartKind, Prosthesis
from caseload.prosthesis.selectors import part_words
from caseload.words import day_words
from caseload.writes import differences, fit
from clinic import access, clock
from clinic.access import Action
from clinic.audit import trail
from clinic.errors import Conflict
from clinic.staff.models import Staff


@dataclass(frozen=True, slots=True)
class Fitted:
    """A part that is worn from a day on, and the one that it replaced, if it did."""

    part: Component
    replaced: Component | None

    @property
    def pk(self) -> UUID:
        """Of the new part."""
        return self.part.pk


@dataclass(frozen=True, slots=True)
class Corrected:
    """A part whose description or serial number was put right: what it was and what it is now."""

    part: Component
    was: str
    now: str


def theirs(actor: Staff, at: datetime, **which: object) -> Prosthesis:
    """A prosthesis that they may keep, locked; Conflict where its episode has ended."""
    rows = Prosthesis.objects.select_for_update(no_key=True, of=("self",))
    rows = rows.select_related("episode__site", "episode__person")
    row = access.get(actor, Action.KEEP_DEVICES, rows, at=at, **which)
    unless_closed(row.episode)
    return row


def fit_part(
    prosthesis: Prosthesis, *, actor: Staff, at: datetime, kind: str, description: str, serial: str, since: date | None
) -> Fitted:
    """Fit a part to a locked prosthesis. What was worn of the same kind ends there (of `other` several are worn)."""
    since = since or clock.local_day(at, prosthesis.episode.site.time_zone)
    part = Component(
        prosthesis=prosthesis,
        kind=kind,
        description=description.strip(),
        serial=serial.strip(),
        period=DateRange(since, None),
    )
    fit(part)
    replaced = _end_worn(prosthesis, kind, since) if kind != PartKind.OTHER else None
    part.save(force_insert=True)
    detail = {"kind": kind, "since": since.isoformat()}
    trail.record(actor, "component.fitted", "component", part.pk, at=at, episode=prosthesis.episode_id, detail=detail)
    return Fitted(part, replaced)


def correct_part(
    part: Component, *, actor: Staff, at: datetime, description: str, serial: str, why: dict[str, str]
) -> Corrected | None:
    """Put the description or the serial number of a part right, of a prosthesis that is locked; nothing where both are
    so already. `why`: the reason for the trail, and the fact that it goes with where there is one."""
    was = part_words(part.description, part.serial)
    changed = differences(part, {"description": description.strip(), "serial": serial.strip()})
    if not changed:
        return None
    fit(part)
    part.save(update_fields=changed)
    now, episode = part_words(part.description, part.serial), part.prosthesis.episode_id
    detail = {"kind": part.kind, "before": was, "to": now, **why}
    trail.record(actor, "component.corrected", "component", part.pk, at=at, episode=episode, detail=detail)
    return Corrected(part, was, now)


def _end_worn(prosthesis: Prosthesis, kind: str, since: date) -> Component | None:
    """End what is worn of a kind. A part that began on that day or later stands in the way."""
    worn = prosthesis.components.filter(kind=kind, period__overlap=DateRange(since, None)).order_by("period").last()
    if worn is None:
        return None
    if worn.period.lower >= since:
        raise Conflict(
            _(
                "A {kind} ({description}) has been worn since {day_words}. Give a later day, or remove that one first."
            ).format(kind=worn.get_kind_display(), description=worn.description, day_words=day_words(worn.period.lower))
        )
    worn.period = DateRange(worn.period.lower, since)
    worn.save(update_fields=["period"])
    return worn
