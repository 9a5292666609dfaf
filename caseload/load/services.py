"""The clinic's own weights."""

from __future__ import annotations

from collections.abc import Mapping

from django.db import transaction
from django.utils.translation import gettext as _

from caseload.load.models import LoadWeight, Phase
from caseload.load.phase import Minutes
from clinic import access, clock
from clinic.access import Action
from clinic.audit import trail
from clinic.errors import Invalid
from clinic.staff.models import Staff

WEEK = 7 * 24 * 60


@transaction.atomic(durable=True)
def set_load_weights(*, actor: Staff, weights: Mapping[str, Minutes]) -> None:
    """Set the minutes a week that a person costs in each phase. Phases that are left out stay as they are."""
    at = clock.now()
    access.permit(actor, Action.SET_LOAD_WEIGHTS, at)
    said = [f"{phase}: unknown" for phase in weights if phase not in Phase.values]
    said += [
        f"{phase}: minutes out of range"
        for phase, w in weights.items()
        if not (0 <= w.one <= WEEK and 0 <= w.extra <= WEEK)
    ]
    if said:
        raise Invalid(_("These weights cannot be."), reasons=said)
    for phase, weight in weights.items():
        LoadWeight.objects.update_or_create(
            phase=phase, defaults={"minutes_per_week": weight.one, "both_sides_extra": weight.extra}
        )
    detail = {"minutes": {phase: [weight.one, weight.extra] for phase, weight in weights.items()}}
    trail.record(actor, "load_weights.set", "load_weights", "clinic", at=at, detail=detail)
