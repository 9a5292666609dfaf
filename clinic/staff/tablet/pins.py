"""One's own PIN: chosen, given up, tried. Wrong ones are counted in the database, one count a person on every device.

It is stored as an argon2 hash of a keyed digest: whoever has the database and not SECRET_KEY cannot even begin to guess
the million that there are.
"""

from __future__ import annotations

from datetime import datetime
from uuid import UUID

from django.contrib.auth.hashers import check_password as fits
from django.contrib.auth.hashers import make_password
from django.db import transaction
from django.utils.crypto import salted_hmac
from django.utils.translation import gettext as _

from clinic import access, clock
from clinic.access import Action, Assurance, assurance
from clinic.audit import trail
from clinic.errors import Conflict, Invalid, Refusal
from clinic.staff import sessions
from clinic.staff.models import Staff
from clinic.staff.session_models import Pin, Tablet
from clinic.staff.tablet.pin_rules import fault_of
from clinic.watch import alarms

TRIES = 5  # wrong ones in a row, on whatever tablets: common practice, no source
RECORDERS = (Action.RECORD, Action.RECORD_KNEE)


class WrongPin(Refusal):
    """Not theirs, or they have none, or may not record: it is not said which."""

    code = "wrong_pin"
    status = 403


class PinLocked(Refusal):
    """Too many wrong ones."""

    code = "pin_locked"
    status = 429


def may_have_one(staff: Staff, at: datetime) -> bool:
    """Whether somebody records, so that a PIN would be of use to them."""
    return staff.is_active and any(access.reach(staff, action, at) is not None for action in RECORDERS)


@transaction.atomic(durable=True)
def set_pin(*, actor: Staff, pin: str, again: str) -> None:
    """Give the actor the PIN that they chose. Their password is asked for before (clinic.staff.reauthenticate)."""
    at = clock.now()
    assurance.need(Assurance.PASSWORD)
    if not may_have_one(actor, at):
        raise Conflict(_("A PIN is for recording at the gym's tablets, and your roles record nothing."))
    if pin != again:
        raise Invalid(_("The two PINs are not alike."))
    if fault := fault_of(pin):
        raise Invalid(fault, code="weak_pin")
    Pin.objects.update_or_create(
        staff=actor,
        defaults={"digest": make_password(_keyed(actor, pin)), "set_at": at, "failures": 0, "locked_at": None},
    )
    trail.record(actor, "pin.set", "staff", actor.reference, at=at)


@transaction.atomic(durable=True)
def give_up_pin(*, actor: Staff) -> None:
    """One's own PIN goes; sessions that it opened end. Without one, nothing changes."""
    at = clock.now()
    assurance.need(Assurance.PASSWORD)
    end_pin(actor, by=actor, at=at)


@transaction.atomic(durable=True)
def take_pin(*, actor: Staff, staff_id: UUID) -> None:
    """A lead takes somebody's PIN away, and ends what it opened."""
    at = clock.now()
    staff = access.get(actor, Action.MANAGE_STAFF, Staff.objects.all(), at=at, pk=staff_id)
    end_pin(staff, by=actor, at=at)


def end_pin(staff: Staff, *, by: Staff | None, at: datetime) -> None:
    """The PIN of somebody goes. An inner step: opens no transaction."""
    gone, _of_what = Pin.objects.filter(staff=staff).delete()
    if gone:
        trail.record(by, "pin.ended", "staff", staff.reference, at=at)
        sessions.end_by_pin(staff, by=by, at=at)


def check(staff: Staff, pin: str, tablet: Tablet, *, at: datetime) -> None:
    """See that this is somebody's PIN. Refused: WrongPin, PinLocked. The count is committed before either is raised.

    The row stays locked while the hash is worked out: a hundred guesses at once are looked at one after the other.
    """
    with transaction.atomic(durable=True):
        row = Pin.objects.select_for_update().filter(staff=staff).first()
        if row is None or row.locked_at is None:
            right = fits(_keyed(staff, pin), row.digest if row else _NOBODYS)
            if row is not None and right:
                row.failures, row.used_at = 0, at
                row.save(update_fields=["failures", "used_at"])
                return
            _count(row, staff, tablet, at)
        else:
            _note(staff, "pin.refused_locked", tablet, at)
    if row is not None and row.locked_at is not None:
        raise PinLocked(
            _(
                "Too many wrong PINs: the PIN of {staff} is locked on every tablet until they sign in with "
                "their password once."
            ).format(staff=staff.name)
        )
    raise WrongPin(_("That is not the PIN. Look at the name, and try again."))


def unlock(staff: Staff, *, at: datetime) -> None:
    """They have signed in with their password: the wrong ones no longer count. An inner step."""
    locked = Pin.objects.filter(staff=staff, locked_at__isnull=False).update(failures=0, locked_at=None)
    Pin.objects.filter(staff=staff, failures__gt=0).update(failures=0)
    if locked:
        trail.record(staff, "pin.unlocked", "staff", staff.reference, at=at)
        alarms.settle(_key(staff), actor=None, at=at, text="They have signed in with their password since.")


def _count(row: Pin | None, staff: Staff, tablet: Tablet, at: datetime) -> None:
    if row is not None:
        row.failures += 1
        if row.failures >= TRIES:
            row.locked_at = at
        row.save(update_fields=["failures", "locked_at"])
    locked = row is not None and row.locked_at is not None
    _note(staff, "pin.locked" if locked else "pin.tried_in_vain", tablet, at)
    if locked:
        text = (
            f"The PIN of {staff.name} ({staff.reference}) was tried {TRIES} times in vain, last on {tablet.name}, and "
            "is locked. Ask them whether that was they."
        )
        alarms.raise_alarm("pin.locked", text, at=at, key=_key(staff))


def _note(staff: Staff, verb: str, tablet: Tablet, at: datetime) -> None:
    """Nobody has shown who they are: the row has no actor."""
    trail.record(None, verb, "staff", staff.reference, at=at, detail={"tablet": tablet.name, "id": str(tablet.pk)})


def _key(staff: Staff) -> str:
    return f"pin.locked:{staff.pk}"


def _keyed(staff: Staff, pin: str) -> str:
    return salted_hmac("clinic.staff.tablet.pin", f"{staff.pk}:{pin}", algorithm="sha256").hexdigest()


_NOBODYS = ""
