"""Choosing one's own password."""

from __future__ import annotations

from django.contrib.auth.password_validation import validate_password
from django.core.exceptions import ValidationError
from django.db import transaction
from django.utils.translation import gettext as _

from clinic import clock
from clinic.access import Assurance, assurance
from clinic.audit import trail
from clinic.errors import Invalid
from clinic.staff import sessions
from clinic.staff.models import Staff
from clinic.staff.reauthenticate import check_present_password


def change_password(*, actor: Staff, old: str, new: str) -> None:
    """Give the actor the password that they chose. Asks for the old one; a password that a lead gave ends with it."""
    assurance.need(Assurance.PASSWORD)
    check_present_password(actor, old)
    if old == new:
        raise Invalid(_("That is the password that you have now. Choose another one."), code="same_password")
    require_good(new, actor)
    at = clock.now()
    with transaction.atomic(durable=True):
        actor.set_password(new)
        actor.password_given_at = None
        actor.save(update_fields=["password", "password_given_at", "wrong_passwords"])
        sessions.end_all_but(actor, sessions.here(), by=actor, why="new password", at=at)
        trail.record(actor, "password.changed", "staff", actor.reference, at=at)


def require_good(password: str, staff: Staff | None) -> None:
    """Refuse a password that is too short or among the first guesses, with every reason."""
    try:
        validate_password(password, staff)
    except ValidationError as fault:
        reasons = [str(message) for message in fault.messages]
        raise Invalid(reasons[0], code="weak_password", reasons=reasons) from None
