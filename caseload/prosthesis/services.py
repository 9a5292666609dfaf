"""The device register. What a change means for the person is a fact of the record: `checklists` records it."""

from __future__ import annotations

from datetime import date
from uuid import UUID

from django.db import transaction
from django.db.backends.postgresql.psycopg_any import DateRange
from django.utils.translation import gettext as _

from caseload.episode.closed import unless_closed
from caseload.episode.models import Episode, Side
from caseload.prosthesis.models import Component, Prosthesis
from caseload.prosthesis.steps import Fitted, fit_part, theirs
from caseload.words import side_words
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
    row = theirs(actor, at, pk=prosthesis_id)
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


@transaction.atomic(durable=True)
def fit_component(
    *, actor: Staff, prosthesis_id: UUID, kind: str, description: str, serial: str = "", since: date | None = None
) -> Fitted:
    """Fit a part from a day on. What was worn of the same kind ends there (of `other` several are worn)."""
    at = clock.now()
    prosthesis = theirs(actor, at, pk=prosthesis_id)
    return fit_part(prosthesis, actor=actor, at=at, kind=kind, description=description, serial=serial, since=since)


@transaction.atomic(durable=True)
def remove_component(*, actor: Staff, prosthesis_id: UUID, component_id: UUID, on: date | None = None) -> Component:
    """Say that a part is no longer worn from a day on."""
    at = clock.now()
    prosthesis = theirs(actor, at, pk=prosthesis_id)
    part = prosthesis.components.filter(pk=component_id).first()
    if part is None:
        raise Invalid(_("There is no such part on this prosthesis."))
    on = on or clock.local_day(at, prosthesis.episode.site.time_zone)
    part.period = DateRange(part.period.lower, max(on, part.period.lower))
    part.save(update_fields=["period"])
    detail = {"kind": part.kind, "on": on.isoformat()}
    trail.record(actor, "component.removed", "component", part.pk, at=at, episode=prosthesis.episode_id, detail=detail)
    return part


def _scale(low: int, high: int) -> None:
    if not 0 <= low < high <= 99:
        raise Invalid(_("The scale runs from a lower to a higher mark, 0 to 99."))
