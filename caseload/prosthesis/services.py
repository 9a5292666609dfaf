"""The device register. What a change means for the person is a fact of the record: `checklists` records it."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime
from uuid import UUID

from django.db import transaction
from django.db.backends.postgresql.psycopg_any import DateRange
from django.utils.translation import gettext as _

from caseload.episode.closed import unless_closed
from caseload.episode.models import Episode, Side
from caseload.prosthesis.models import Component, PartKind, Prosthesis
from caseload.words import day_words, side_words
from caseload.writes import differences, fit, refused_as, unless_stale
from clinic import access, clock
from clinic.access import Action
from clinic.audit import trail
from clinic.errors import Conflict, Invalid
from clinic.staff.models import Staff


@transaction.atomic(durable=True)
def register_prosthesis(
    *, actor: Staff, episode_id: UUID, side: str, label: str, resistance_low: int = 1, resistance_high: int = 9
) -> Prosthesis:
    """Register the prosthesis of a side, with the lowest and highest mark of its knee's stance-flexion scale."""
    at = clock.now()
    episode = access.get(actor, Action.KEEP_DEVICES, Episode.objects.select_related("person"), at=at, pk=episode_id)
    unless_closed(episode)
    if episode.side not in ("", Side.BOTH, side):
        raise Invalid(
            _("The prosthesis of {person} is {side}.").format(
                person=episode.person.full_name, side=side_words(episode.side)
            )
        )
    _scale(resistance_low, resistance_high)
    prosthesis = Prosthesis(
        episode=episode, side=side, label=label.strip(), resistance_low=resistance_low, resistance_high=resistance_high
    )
    fit(prosthesis)
    refusal = Conflict(
        _("The {side} prosthesis of {person} is registered already: to replace it, replace its parts.").format(
            side=side_words(side), person=episode.person.full_name
        )
    )
    with refused_as(lambda: refusal, "prosthesis_one_a_side"):
        prosthesis.save(force_insert=True)
    detail = {"version": 1, "side": side}
    trail.record(actor, "prosthesis.registered", "prosthesis", prosthesis.pk, at=at, episode=episode.pk, detail=detail)
    return prosthesis


@transaction.atomic(durable=True)
def edit_prosthesis(
    *, actor: Staff, prosthesis_id: UUID, version: int, label: str, resistance_low: int, resistance_high: int
) -> Prosthesis:
    """Correct the label or the scale of a prosthesis."""
    at = clock.now()
    row = _theirs(actor, prosthesis_id, at)
    unless_stale(row, version, "prosthesis", zone=row.episode.site.time_zone)
    _scale(resistance_low, resistance_high)
    wanted = {"label": label.strip(), "resistance_low": resistance_low, "resistance_high": resistance_high}
    changed = differences(row, wanted)
    if changed:
        fit(row)
        row.version += 1
        row.save(update_fields=[*changed, "version"])
        detail = {"version": row.version, "fields": changed}
        trail.record(actor, "prosthesis.changed", "prosthesis", row.pk, at=at, episode=row.episode_id, detail=detail)
    return row


@dataclass(frozen=True, slots=True)
class Fitted:
    """A part that is worn from a day on, and the one that it replaced, if it did."""

    part: Component
    replaced: Component | None

    @property
    def pk(self) -> UUID:
        """Of the new part."""
        return self.part.pk


@transaction.atomic(durable=True)
def fit_component(
    *, actor: Staff, prosthesis_id: UUID, kind: str, description: str, serial: str = "", since: date | None = None
) -> Fitted:
    """Fit a part from a day on. What was worn of the same kind ends there (of `other` several are worn)."""
    at = clock.now()
    prosthesis = _theirs(actor, prosthesis_id, at)
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


@transaction.atomic(durable=True)
def remove_component(*, actor: Staff, prosthesis_id: UUID, component_id: UUID, on: date | None = None) -> Component:
    """Say that a part is no longer worn from a day on."""
    at = clock.now()
    prosthesis = _theirs(actor, prosthesis_id, at)
    part = prosthesis.components.filter(pk=component_id).first()
    if part is None:
        raise Invalid(_("There is no such part on this prosthesis."))
    on = on or clock.local_day(at, prosthesis.episode.site.time_zone)
    part.period = DateRange(part.period.lower, max(on, part.period.lower))
    part.save(update_fields=["period"])
    detail = {"kind": part.kind, "on": on.isoformat()}
    trail.record(actor, "component.removed", "component", part.pk, at=at, episode=prosthesis.episode_id, detail=detail)
    return part


def _theirs(actor: Staff, prosthesis_id: UUID, at: datetime) -> Prosthesis:
    """A prosthesis that they may keep, locked; Conflict where its episode has ended."""
    rows = Prosthesis.objects.select_for_update(no_key=True, of=("self",))
    rows = rows.select_related("episode__site", "episode__person")
    row = access.get(actor, Action.KEEP_DEVICES, rows, at=at, pk=prosthesis_id)
    unless_closed(row.episode)
    return row


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


def _scale(low: int, high: int) -> None:
    if not 0 <= low < high <= 99:
        raise Invalid(_("The scale runs from a lower to a higher mark, 0 to 99."))
