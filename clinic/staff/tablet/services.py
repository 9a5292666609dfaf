"""Tablets of the gym: added, enrolled, revoked by a clinic lead; opened by a colleague's PIN."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from uuid import UUID

from django.db import transaction
from django.utils.translation import gettext as _

from clinic import access, clock
from clinic.access import Action
from clinic.audit import trail
from clinic.errors import Conflict, Invalid, NotFound, Refusal
from clinic.staff import attempts, sessions, steps
from clinic.staff.models import Staff
from clinic.staff.session_models import Tablet
from clinic.staff.tablet import pins
from clinic.staff.tablet.secret import CODE_GOOD_FOR, a_code, a_secret, code_digest, digest_of


class CodeRefused(Refusal):
    """No tablet waits for this code."""

    code = "code_refused"
    status = 403


class GivenPassword(Refusal):
    """Their password is one that a lead gave, and opens nothing but the page on which they choose their own."""

    code = "given_password"
    status = 403


@dataclass(frozen=True, slots=True)
class Awaited:
    """A tablet that waits to be enrolled, and the code for it, told this once."""

    tablet: Tablet
    code: str


@dataclass(frozen=True, slots=True)
class Enrolled:
    """An enrolled tablet, and the secret that the device keeps; the database has its digest."""

    tablet: Tablet
    secret: str


@transaction.atomic(durable=True)
def add_tablet(*, actor: Staff, name: str, site_id: UUID) -> Awaited:
    """Expect a tablet: its code, typed on it within a quarter of an hour, enrols it once."""
    at = clock.now()
    tablet = _made(actor, name, site_id)
    code = a_code()
    tablet.code, tablet.code_until = code_digest(code), at + CODE_GOOD_FOR
    tablet.save(force_insert=True)
    _account(actor, "tablet.added", tablet, site=tablet.site.name)
    return Awaited(tablet, code)


@transaction.atomic(durable=True)
def enrol_here(*, actor: Staff, name: str, site_id: UUID, agent: str = "") -> Enrolled:
    """Enrol the device on which the lead is signed in."""
    tablet = _made(actor, name, site_id)
    enrolled = _enrolled(tablet, agent)
    tablet.save(force_insert=True)
    _account(actor, "tablet.enrolled", tablet, site=tablet.site.name, how="signed in on it")
    return enrolled


def enrol_by_code(*, code: str, agent: str = "") -> Enrolled:
    """Enrol the device on which the code was typed. Nobody is signed in: the code is what a lead handed out.

    Wrong ones count like wrong passwords do; used, run out and unknown read the same.
    """
    at = clock.now()
    attempt = attempts.begin("the code of a tablet", trail.came_from().address, at=at)
    if isinstance(attempt, datetime):
        raise CodeRefused(_("Too many wrong codes. Wait a quarter of an hour, or have a lead sign in on this device."))
    with transaction.atomic(durable=True):
        rows = Tablet.objects.select_for_update(of=("self",)).select_related("site", "added_by")
        tablet = rows.filter(code=code_digest(code), code_until__gte=at, revoked_at__isnull=True).first()
        if tablet is not None and code.strip():
            enrolled = _enrolled(tablet, agent)
            tablet.save()
            _account(None, "tablet.enrolled", tablet, how="by code", added_by=tablet.added_by.reference)
            attempts.succeeded(attempt)
            return enrolled
        trail.record(None, "tablet.code_refused", "tablet", "unknown", at=at)
    raise CodeRefused(_("No tablet waits for this code. It is good once, for a quarter of an hour: ask for another."))


@transaction.atomic(durable=True)
def revoke_tablet(*, actor: Staff, tablet_id: UUID, reason: str) -> Tablet:
    """Lost, sold or broken: from this moment it opens nothing, and whatever was open on it has ended. Twice is once."""
    at = clock.now()
    access.permit(actor, Action.MANAGE_TABLETS, at)
    tablet = Tablet.objects.select_for_update().filter(pk=tablet_id).first()
    if tablet is None:
        raise NotFound(_("There is no such tablet."))
    if tablet.revoked_at is not None:
        return tablet
    if not reason.strip():
        raise Invalid(_("Say why: lost, sold, broken. It will be read later."))
    tablet.revoked_at, tablet.revoked_by, tablet.revoked_why = at, actor, reason.strip()[:400]
    tablet.code = tablet.secret = ""
    tablet.enrolled_at = None
    tablet.save()
    ended = sessions.end_on_tablet(tablet, by=actor, at=at)
    _account(actor, "tablet.revoked", tablet, reason=tablet.revoked_why, sessions_ended=ended)
    return tablet


def note_seen(tablet: Tablet, *, at: datetime) -> None:
    """It shows itself: the first time in each minute of the clock is kept, so that the minute which is read out when it
    is revoked is its last. Without a row in the trail."""
    if tablet.seen_at is None or tablet.seen_at < at.replace(second=0, microsecond=0):
        Tablet.objects.filter(pk=tablet.pk).update(seen_at=at)


def sign_in_by_pin(*, tablet: Tablet, staff_id: UUID, pin: str) -> Staff:
    """Return who this is, for recording on this tablet. Only staff of its site, whose roles record, with a PIN.

    Anybody else is refused like a wrong PIN; either way a row in the trail says so.
    """
    at = clock.now()
    if tablet.enrolled_at is None or tablet.revoked_at is not None:
        raise Conflict(_("This device is not enrolled. Sign in with your name and password."))
    staff = Staff.objects.select_related("site").filter(pk=staff_id, site_id=tablet.site_id, is_active=True).first()
    if staff is None or not pins.may_have_one(staff, at):
        trail.record(None, "pin.tried_in_vain", "staff", "not of this site", at=at, detail={"tablet": tablet.name})
        raise pins.WrongPin(_("That is not the PIN. Look at the name, and try again."))
    pins.check(staff, pin, tablet, at=at)
    if staff.password_given_at is not None:
        raise GivenPassword(
            _("A lead has given you a new password. Sign in with it and choose your own: then your PIN is good again.")
        )
    trail.record(staff, "sign_in.by_pin", "staff", staff.reference, at=at, detail={"tablet": tablet.name})
    return staff


def _made(actor: Staff, name: str, site_id: UUID) -> Tablet:
    at = clock.now()
    access.permit(actor, Action.MANAGE_TABLETS, at)
    tablet = Tablet(name=name.strip(), site=steps.site_of(site_id), added_by=actor, added_at=at)
    steps.fit(tablet)
    in_use = Tablet.objects.filter(name__iexact=tablet.name, revoked_at__isnull=True)
    if in_use.filter(enrolled_at__isnull=False).exists():
        raise Conflict(
            _("There is a tablet with the name {tablet} already. Revoke it, or choose another name.").format(
                tablet=tablet.name
            )
        )
    return tablet


def _enrolled(tablet: Tablet, agent: str) -> Enrolled:
    at, drawn = clock.now(), a_secret()
    tablet.secret, tablet.code, tablet.code_until = digest_of(drawn), "", None
    tablet.enrolled_at = tablet.seen_at = at
    tablet.agent = agent[:80]
    return Enrolled(tablet, drawn)


def _account(actor: Staff | None, verb: str, tablet: Tablet, **detail: object) -> None:
    said = {"name": tablet.name} | detail
    trail.record(actor, verb, "tablet", tablet.pk, at=clock.now(), detail=said)
