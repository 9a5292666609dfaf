"""What a clinic lead does about a factor that somebody has lost. A lead takes it away and can neither add one nor sign
with what is left: the identity is to be checked again, by somebody else, before they sign (21 CFR 11.200(a)(3),
11.300(c))."""

from __future__ import annotations

from uuid import UUID

from django.db import transaction
from django.utils.translation import gettext as _

from clinic import clock
from clinic.errors import Conflict, Invalid
from clinic.staff import identity, sessions
from clinic.staff.factors import steps
from clinic.staff.models import Staff
from clinic.staff.steps import managed


@transaction.atomic(durable=True)
def remove_lost_factor(*, actor: Staff, staff_id: UUID, factor_id: UUID, how: str) -> None:
    """Take away a factor that its owner has lost. `how`: in words, how the lead made sure whom they speak with.

    Everything of theirs that is signed in ends. One's own goes on one's own page.
    """
    at = clock.now()
    staff = managed(actor, staff_id, at=at)
    if staff.pk == actor.pk:
        raise Conflict(_("Your own factors you remove on your own page."))
    if not how.strip():
        raise Invalid(_("Say how you made sure that it is they who ask: it will be read later."))
    row = steps.own_factor(staff, factor_id)
    steps.taken_away(actor, row, f"lost; identity: {how.strip()}", at=at)
    identity.let_in_by(staff, actor)
    sessions.end_all_but(staff, None, by=actor, why="factor lost", at=at)
