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
from caseload.prosthesis.recorded import recorded
from caseload.prosthesis.selectors import devices, part_words
from caseload.prosthesis.steps import Corrected, Fitted, correct_part, fit_part, theirs
from caseload.words import instant_words, side_words
from caseload.writes import because, differences, fit, refused_as, unless_stale
from clinic import access, clock
from clinic.access import Action
from clinic.audit import trail
from clinic.errors import Conflict, Invalid, Stale
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
    part = _part(prosthesis, component_id)
    on = on or clock.local_day(at, prosthesis.episode.site.time_zone)
    part.period = DateRange(part.period.lower, max(on, part.period.lower))
    part.save(update_fields=["period"])
    detail = {"kind": part.kind, "on": on.isoformat()}
    trail.record(actor, "component.removed", "component", part.pk, at=at, episode=prosthesis.episode_id, detail=detail)
    return part


@transaction.atomic(durable=True)
def correct_component(
    *,
    actor: Staff,
    prosthesis_id: UUID,
    component_id: UUID,
    description: str,
    serial: str,
    reason: str,
    seen: str | None = None,
) -> Corrected | None:
    """Put a mistyped description or serial number of a part right, with the reason. Nothing where both are so already.

    `seen`: what the part was called when the form was shown; Stale where it is called something else by now. Where the
    record of facts names the part, the register is not led away from it: Conflict, unless it then says the same.
    """
    at = clock.now()
    prosthesis = theirs(actor, at, pk=prosthesis_id)
    part, zone = _part(prosthesis, component_id), prosthesis.episode.site.time_zone
    why = because(reason, _("Say why it is corrected."))
    if seen is not None and seen != part_words(part.description, part.serial):
        words = part_words(part.description, part.serial)
        raise Stale(
            _("It was corrected meanwhile: the register says {words} now. Open the page anew.").format(words=words)
        )
    facts = recorded(prosthesis.episode_id, devices(actor, prosthesis.episode_id, at=at), zone)
    named = facts.named.get(part.pk)
    if named and not named.holds(description, serial):
        raise Conflict(
            _(
                "The record says “{words}”, since {at}. Give the same here; or, where that is wrong, strike it out and"
                " record it again: the register is corrected with it."
            ).format(words=named.words, at=instant_words(named.at, zone))
        )
    return correct_part(part, actor=actor, at=at, description=description, serial=serial, why={"reason": why[:400]})


def _part(prosthesis: Prosthesis, component_id: UUID) -> Component:
    part = prosthesis.components.filter(pk=component_id).first()
    if part is None:
        raise Invalid(_("There is no such part on this prosthesis."))
    return part


def _scale(low: int, high: int) -> None:
    if not 0 <= low < high <= 99:
        raise Invalid(_("The scale runs from a lower to a higher mark, 0 to 99."))
