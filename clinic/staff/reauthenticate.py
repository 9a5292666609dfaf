"""Showing again who one is, before doing what only one may do oneself.

    confirm(actor, Proof(password=…, code=…))        # how it was shown; or a Refusal whose sentence is for the page

Call it before the transaction of the deed begins: what is wrong must stay counted when the deed is refused, so it
refuses to run inside one. The rules are those of 21 CFR 11.200(a)(1): see clinic.staff.sitting.
"""

from __future__ import annotations

from datetime import datetime

from django.utils.translation import gettext as _

from clinic import clock
from clinic.access import assurance
from clinic.access.assurance import Assurance
from clinic.audit import trail
from clinic.errors import Denied, Refusal
from clinic.staff import attempts, sign_in
from clinic.staff.factors import recovery
from clinic.staff.factors.check import NoFactor, WrongCode, check_code, check_passkey
from clinic.staff.factors.models import in_use
from clinic.staff.factors.passkeys import WrongPasskey
from clinic.staff.factors.shown import Proof, Shown
from clinic.staff.models import Staff
from clinic.staff.sitting import present
from clinic.watch.alarms import raise_alarm

__all__ = [
    "IN_VAIN",
    "NotConfirmed",
    "Proof",
    "Shown",
    "WrongPassword",
    "check_present_password",
    "confirm",
    "confirm_colleague",
]

IN_VAIN = 3  # signings tried in vain within 15 minutes, after which leads and records officers are told at once


class WrongPassword(Refusal):
    """The password is not theirs."""

    code = "wrong_password"
    status = 403


class NotConfirmed(Refusal):
    """What was given is too little."""

    code = "not_confirmed"
    status = 403


def confirm(actor: Staff, proof: Proof, *, all_components: bool = False) -> Shown:
    """See that it is the actor: all components at first, one at least later in the same sitting. Returns what was
    shown.

    `all_components`: whatever was shown before, as where a factor is changed. Refused: a password that a lead gave,
    whoever has no second factor, anything wrong. Wrong ones count towards the lock-outs of the sign-in page, and
    several within a short time raise an alarm.
    """
    assurance.need(Assurance.PASSWORD)
    _may_confirm(actor)
    sitting = present()
    every = all_components or sitting is None or not sitting.all_shown(actor)
    shown = _checked(actor, proof, every=every, by=actor)
    if shown.both and sitting is not None:
        sitting.note_all_shown(actor)
    return shown


def confirm_colleague(staff: Staff, proof: Proof, *, at_screen_of: Staff) -> Shown:
    """See that it is a colleague who stands at somebody else's screen: all components, each time."""
    shown = _checked(staff, proof, every=True, by=at_screen_of)
    _may_confirm(staff)
    return shown


def _checked(staff: Staff, proof: Proof, *, every: bool, by: Staff) -> Shown:
    at = clock.now()
    try:
        return _shown(staff, proof, at, every=every)
    except (WrongPassword, WrongCode, WrongPasskey, attempts.LockedOut) as refusal:
        _in_vain(staff, refusal, by, at)
        raise


def _may_confirm(staff: Staff) -> None:
    if staff.password_given_at is not None:
        raise Denied(
            _("Choose a password of your own first: the one that you have is known to whoever gave it to you.")
        )
    if not in_use(staff).exists():
        raise NoFactor(_("Add a second factor first, on the page 'Your sign-in': a password alone signs nothing."))


def _shown(staff: Staff, proof: Proof, at: datetime, *, every: bool) -> Shown:
    """Whatever was given is checked, also where less would do: something wrong is never passed over."""
    if proof.passkey is not None:
        check_passkey(proof.passkey, at=at, of=staff)
        return Shown.PASSKEY
    if every and not (proof.password and proof.code):
        raise NotConfirmed(
            _("This takes both, or a passkey: your password and a code of your second factor. Nothing was done.")
        )
    if not (proof.password or proof.code):
        raise NotConfirmed(_("Give your password, or a code of your second factor. Nothing was done."))
    if proof.code and not proof.password and recovery.is_one(proof.code):
        raise NotConfirmed(
            _("A recovery code needs the password with it. Nothing was done, and the code is still good.")
        )
    if proof.password and not sign_in.password_holds(staff, staff.username, proof.password, at=at):
        raise WrongPassword(_("That is not your password. Nothing was done."))
    by_recovery = bool(proof.code) and check_code(staff, proof.code, at=at)
    if not proof.code:
        return Shown.PASSWORD
    if by_recovery:
        return Shown.PASSWORD_AND_RECOVERY
    return Shown.PASSWORD_AND_CODE if proof.password else Shown.CODE


def _in_vain(staff: Staff, refusal: Refusal, by: Staff, at: datetime) -> None:
    """Account for it, and tell the leads at once where it goes on (21 CFR 11.300(d))."""
    trail.record(by, "signing.tried_in_vain", "staff", staff.reference, at=at, detail={"why": refusal.code})
    tried = attempts.note(f"signing of {staff.pk}", trail.came_from().address, at=at)
    if tried >= IN_VAIN:
        text = (
            f"A wrong password, code or passkey of {staff.reference} was given {tried} times within 15 minutes "
            "where a signature is asked for. Ask them whether it was they; if not, give them a new "
            "password and read the trail."
        )
        raise_alarm("signing.tried_in_vain", text, at=at, key=f"signing:{staff.reference}")


def check_present_password(actor: Staff, password: str) -> None:
    """See that this is the password that the actor has now, whoever chose it."""
    at = clock.now()
    if not sign_in.password_holds(actor, actor.username, password, at=at):
        trail.record(actor, "password.asked_in_vain", "staff", actor.reference, at=at)
        raise WrongPassword(_("That is not your password. Nothing was done."))
