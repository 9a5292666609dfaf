"""Signing in: name and password, then the second factor of whoever has one; or a passkey alone."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

from django.contrib.auth.backends import BaseBackend
from django.contrib.auth.hashers import make_password
from django.db.models import F
from django.http import HttpRequest
from django.utils.translation import gettext as _

from clinic import clock
from clinic.audit import trail
from clinic.errors import Refusal
from clinic.language import dates
from clinic.staff import attempts
from clinic.staff.attempts import LockedOut
from clinic.staff.factors.check import WrongCode, check_code, check_passkey
from clinic.staff.factors.models import in_use
from clinic.staff.factors.passkeys import Answer, WrongPasskey
from clinic.staff.factors.shown import Proof, Shown
from clinic.staff.models import Staff, name_key
from clinic.watch.alarms import raise_alarm

GIVEN_FOR = timedelta(days=3)
MOST_WRONG = 100  # in a row, however slowly (NIST SP 800-63B-4: at most 100)


class CannotSignIn(Refusal):
    """The name and the password do not go together. It is not said which of them is wrong."""

    code = "cannot_sign_in"
    status = 403


class SecondFactorNeeded(CannotSignIn):
    """The first factor holds; a second one is needed."""

    code = "second_factor_needed"


@dataclass(frozen=True, slots=True)
class Come:
    """Somebody who has come in, and how they have shown who they are."""

    staff: Staff
    shown: Shown


def sign_in(*, username: str, password: str, code: str = "") -> Come:
    """Both steps at once, as a programme takes them. Either way a row in the trail says so."""
    staff = first_step(username=username, password=password)
    if not needs_second(staff):
        return come_in(staff, Shown.PASSWORD)
    if not code:
        raise SecondFactorNeeded(_("Send the code of your second factor too."))
    return second_step(staff, Proof(code=code))


def first_step(*, username: str, password: str) -> Staff:
    """Whose name and password these are, or a refusal with a sentence. They are not in yet."""
    at = clock.now()
    staff = Staff.objects.select_related("site").filter(username_key=name_key(username)).first()
    if not password_holds(staff, username, password, at=at) or staff is None:
        raise _refused(staff, "name or password wrong", _("That name and password do not go together. Try again."), at)
    _unless_closed(staff, at)
    if staff.password_given_at is not None and at - staff.password_given_at > GIVEN_FOR:
        sentence = _("The password that a clinic lead gave you was good for three days. Ask for a new one.")
        raise _refused(staff, "given password too old", sentence, at)
    return staff


def needs_second(staff: Staff) -> bool:
    """Whether a second step follows: whoever has a factor is asked for it."""
    return in_use(staff).exists()


def second_step(staff: Staff, proof: Proof) -> Come:
    """The code or the passkey of whoever gave the right password."""
    at = clock.now()
    _unless_closed(staff, at)
    try:
        if proof.passkey is not None:
            check_passkey(proof.passkey, at=at, of=staff)
            return come_in(staff, Shown.PASSKEY)
        by_recovery = check_code(staff, proof.code, at=at)
    except (WrongCode, WrongPasskey) as refusal:
        _note(staff, "sign_in.failed", at, why=refusal.code.replace("_", " "))
        raise
    return come_in(staff, Shown.PASSWORD_AND_RECOVERY if by_recovery else Shown.PASSWORD_AND_CODE)


def by_passkey(answer: Answer) -> Come:
    """Whoever's passkey answered: it alone is both factors."""
    at = clock.now()
    try:
        staff = check_passkey(answer, at=at)
    except WrongPasskey as refusal:
        _note(None, "sign_in.failed", at, why=refusal.code.replace("_", " "))
        raise
    _unless_closed(staff, at)
    return come_in(staff, Shown.PASSKEY)


def come_in(staff: Staff, shown: Shown) -> Come:
    """Account for somebody who has come in."""
    trail.record(staff, "sign_in.succeeded", "staff", staff.reference, at=clock.now(), detail={"by": str(shown)})
    return Come(staff, shown)


def password_holds(staff: Staff | None, username: str, password: str, *, at: datetime) -> bool:
    """Whether the password is this person's. Counts the attempt; raises LockedOut where there were too many."""
    attempt = attempts.begin(username, trail.came_from().address, at=at)
    if isinstance(attempt, datetime):
        _note(staff, "sign_in.locked_out", at, until=attempt.isoformat())
        minutes = -((at - attempt) // timedelta(minutes=1))
        raise LockedOut(
            _(
                "Too many wrong passwords: signing in with this name is shut here for {minutes}. "
                "Wait, or ask a clinic lead for a new password."
            ).format(minutes=dates.minutes(minutes))
        )
    if staff is None:
        make_password(password)  # takes as long as for a name that exists
        return False
    _unless_shut(staff, at)
    if not staff.check_password(password):
        Staff.objects.filter(pk=staff.pk).update(wrong_passwords=F("wrong_passwords") + 1)
        return False
    if staff.wrong_passwords:
        Staff.objects.filter(pk=staff.pk).update(wrong_passwords=0)
    attempts.succeeded(attempt)
    return True


def _unless_shut(staff: Staff, at: datetime) -> None:
    """After too many wrong ones in a row, however slowly, a password opens nothing until there is a new one."""
    wrong = Staff.objects.values_list("wrong_passwords", flat=True).get(pk=staff.pk)
    if wrong >= MOST_WRONG:
        _note(staff, "sign_in.locked_out", at, by="wrong passwords in a row", wrong=wrong)
        text = (
            f"{MOST_WRONG} wrong passwords in a row were given for {staff.reference}: the password opens "
            "nothing any more. Give them a new one, and look in the trail from where it was tried."
        )
        raise_alarm("password.shut", text, at=at, key=f"password:{staff.reference}")
        raise LockedOut(
            _(
                "This password is shut after {most_wrong} wrong ones in a row. Use a passkey, or ask a "
                "clinic lead for a new password."
            ).format(most_wrong=MOST_WRONG)
        )


def _unless_closed(staff: Staff, at: datetime) -> None:
    if not staff.is_active:
        raise _refused(staff, "account closed", _("This account is closed. Ask a clinic lead."), at)


def _note(staff: Staff | None, verb: str, at: datetime, **detail: object) -> None:
    """Nobody has shown who they are: the row has no actor. An unknown name is not kept: it may be a password."""
    trail.record(None, verb, "staff", staff.reference if staff else "unknown name", at=at, detail=detail)


def _refused(staff: Staff | None, why: str, sentence: str, at: datetime) -> CannotSignIn:
    _note(staff, "sign_in.failed", at, why=why)
    return CannotSignIn(sentence)


class StaffBackend(BaseBackend):
    """Django's door to the same service: whatever asks Django to authenticate meets the same lock-out and trail, and
    whoever has a second factor does not come in by it."""

    def authenticate(
        self, request: HttpRequest | None, username: str | None = None, password: str | None = None, **_: object
    ) -> Staff | None:
        """Who this is, or nobody."""
        if not username or not password:
            return None
        try:
            return sign_in(username=username, password=password).staff
        except Refusal:
            return None

    def get_user(self, user_id: Any) -> Staff | None:
        """The member of staff of a session, while they are one."""
        return Staff.objects.filter(pk=user_id, is_active=True).first()
