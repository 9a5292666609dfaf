"""Signing in by name and password."""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import Any

from django.contrib.auth.backends import BaseBackend
from django.contrib.auth.hashers import make_password
from django.http import HttpRequest

from clinic import clock
from clinic.audit import trail
from clinic.errors import Refusal
from clinic.staff import attempts
from clinic.staff.models import Staff

GIVEN_FOR = timedelta(days=3)


class CannotSignIn(Refusal):
    """The name and the password do not go together. It is not said which of them is wrong."""

    code = "cannot_sign_in"
    status = 403


class LockedOut(Refusal):
    """Too many wrong passwords."""

    code = "locked_out"
    status = 429


def sign_in(*, username: str, password: str) -> Staff:
    """Return who this is, or refuse with a sentence. Either way a row in the trail says so."""
    at = clock.now()
    staff = Staff.objects.select_related("site").filter(username__iexact=username.strip()).first()
    if not password_holds(staff, username, password, at=at) or staff is None:
        raise _refused(staff, "name or password wrong", "That name and password do not go together. Try again.", at)
    if not staff.is_active:
        raise _refused(staff, "account closed", "This account is closed. Ask a clinic lead.", at)
    if staff.password_given_at is not None and at - staff.password_given_at > GIVEN_FOR:
        sentence = "The password that a clinic lead gave you was good for three days. Ask for a new one."
        raise _refused(staff, "given password too old", sentence, at)
    trail.record(staff, "sign_in.succeeded", "staff", staff.reference, at=at)
    return staff


def password_holds(staff: Staff | None, username: str, password: str, *, at: datetime) -> bool:
    """Whether the password is this person's. Counts the attempt; raises LockedOut where there were too many."""
    attempt = attempts.begin(username, trail.came_from().address, at=at)
    if isinstance(attempt, datetime):
        _note(staff, "sign_in.locked_out", at, until=attempt.isoformat())
        minutes = -((at - attempt) // timedelta(minutes=1))
        raise LockedOut(
            f"Too many wrong passwords: signing in with this name is shut here for {minutes} "
            f"minute{'s' if minutes > 1 else ''}. Wait, or ask a clinic lead for a new password."
        )
    if staff is None:
        make_password(password)  # takes as long as for a name that exists
        return False
    if not staff.check_password(password):
        return False
    attempts.succeeded(attempt)
    return True


def _note(staff: Staff | None, verb: str, at: datetime, **detail: object) -> None:
    """Nobody has shown who they are: the row has no actor. An unknown name is not kept: it may be a password."""
    trail.record(None, verb, "staff", staff.reference if staff else "unknown name", at=at, detail=detail)


def _refused(staff: Staff | None, why: str, sentence: str, at: datetime) -> CannotSignIn:
    _note(staff, "sign_in.failed", at, why=why)
    return CannotSignIn(sentence)


class StaffBackend(BaseBackend):
    """Django's door to the same service: whatever asks Django to authenticate meets the same lock-out and trail."""

    def authenticate(
        self, request: HttpRequest | None, username: str | None = None, password: str | None = None, **_: object
    ) -> Staff | None:
        """Who this is, or nobody."""
        if not username or not password:
            return None
        try:
            return sign_in(username=username, password=password)
        except Refusal:
            return None

    def get_user(self, user_id: Any) -> Staff | None:
        """The member of staff of a session, while they are one."""
        return Staff.objects.filter(pk=user_id, is_active=True).first()
