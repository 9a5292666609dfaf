"""Asking again for the password of somebody who is signed in, before they do what only they may do.

    check_password(actor, password)        # returns, or raises a Refusal whose sentence is for the page

Call it before the transaction of the deed begins: a wrong password must stay counted when the deed is refused, so it
refuses to run inside one.
"""

from __future__ import annotations

from clinic import clock
from clinic.audit import trail
from clinic.errors import Denied, Refusal
from clinic.staff import sign_in
from clinic.staff.models import Staff


class WrongPassword(Refusal):
    """The password is not theirs."""

    code = "wrong_password"
    status = 403


def check_password(actor: Staff, password: str) -> None:
    """See that this is the actor's password, and their own: one that a lead gave signs for nothing.

    Wrong ones count towards the same lock-out as at the sign-in page.
    """
    if actor.password_given_at is not None:
        raise Denied("Choose a password of your own first: the one that you have is known to whoever gave it to you.")
    check_present_password(actor, password)


def check_present_password(actor: Staff, password: str) -> None:
    """See that this is the password that the actor has now, whoever chose it."""
    at = clock.now()
    if not sign_in.password_holds(actor, actor.username, password, at=at):
        trail.record(actor, "password.asked_in_vain", "staff", actor.reference, at=at)
        raise WrongPassword("That is not your password. Nothing was done.")
