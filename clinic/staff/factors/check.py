"""Checking a second factor. Wrong ones count in the same lock-out as passwords, under a key of their own: the right
password does not wipe out wrong codes. None of this may stand in a transaction: what is wrong must stay counted.
"""

from __future__ import annotations

from datetime import datetime, timedelta

from django.db import transaction
from django.db.models import F
from django.utils.translation import gettext as _
from django.utils.translation import gettext_noop

from clinic.audit import trail
from clinic.errors import Denied, Refusal
from clinic.language import dates
from clinic.staff import attempts
from clinic.staff.factors import passkeys, recovery, totp, vault
from clinic.staff.factors.models import Factor, Kind, good_codes, in_use
from clinic.staff.factors.news import tell_owner
from clinic.staff.factors.passkeys import Answer, WrongPasskey
from clinic.staff.models import Staff
from clinic.watch.alarms import raise_alarm

MOST_FAILURES = 100  # wrong codes in a row, after which an app's codes open nothing (NIST SP 800-63B-4: at most 100)


class WrongCode(Refusal):
    """No code of theirs, or one that was used already."""

    code = "wrong_code"
    status = 403


class KeyNotHere(Refusal):
    """The server cannot open the secrets of its people's apps."""

    code = "factor_key_missing"
    status = 503


class NoFactor(Denied):
    """A second factor is needed, and there is none."""

    code = "no_second_factor"


def key_of(staff: Staff) -> str:
    """Under which key wrong codes of somebody count."""
    return f"second factor of {staff.pk}"


def check_code(staff: Staff, code: str, *, at: datetime) -> bool:
    """See that this is a code of theirs, and use it up. True for a recovery code. WrongCode, LockedOut otherwise."""
    attempt = attempts.begin(key_of(staff), trail.came_from().address, at=at)
    if isinstance(attempt, datetime):
        raise locked_out(staff, attempt, at)
    by_recovery = recovery.is_one(code)
    try:
        holds = _use_recovery(staff, code, at) if by_recovery else _use_time(staff, totp.typed(code), at)
    except KeyNotHere:
        text = "The key to people's second factors is not in the folder of the keys: put it back from its copy."
        raise_alarm("factor_keys.missing", text, at=at, key="factor_keys")
        raise
    if not holds:
        raise WrongCode(
            _("That code is not good: wrong, too old, or used already. Wait for the next one and try again.")
        )
    attempts.succeeded(attempt)
    return by_recovery


def locked_out(staff: Staff, until: datetime, at: datetime) -> attempts.LockedOut:
    """Too many wrong codes."""
    trail.record(
        None, "sign_in.locked_out", "staff", staff.reference, at=at, detail={"until": until.isoformat(), "by": "codes"}
    )
    minutes = -((at - until) // timedelta(minutes=1))
    return attempts.LockedOut(
        _(
            "Too many wrong codes: codes of this account are shut here for {minutes}. Wait, "
            "use a passkey, or ask a clinic lead."
        ).format(minutes=dates.minutes(minutes))
    )


def _use_time(staff: Staff, code: str, at: datetime) -> bool:
    """Use a code of an app up, under the lock of its row: the same code twice at once is used once."""
    with transaction.atomic():
        rows = in_use(staff).filter(kind=Kind.TOTP).select_for_update(no_key=True).order_by("added_at")
        for row in rows:
            secret = _secret_of(row)
            step = totp.matching_step(secret, code, at, after=row.last_step)
            if step is not None and row.failures < MOST_FAILURES:
                row.last_step, row.used_at, row.failures = step, at, 0
                row.save(update_fields=["last_step", "used_at", "failures"])
                return True
        rows.update(failures=F("failures") + 1)
        for row in in_use(staff).filter(kind=Kind.TOTP, failures=MOST_FAILURES):
            trail.record(None, "factor.shut", "staff", staff.reference, at=at, detail={"factor": str(row.pk)})
            tell_owner(staff, gettext_noop("an app's codes are shut after too many wrong ones in a row"), at=at)
    return False


def _secret_of(row: Factor) -> bytes:
    try:
        return vault.opened(bytes(row.secret or b""), row.about)
    except vault.Locked as fault:
        raise KeyNotHere(
            _(
                "This server has not the key to its people's second factors. Tell whoever keeps it; a "
                "passkey or a recovery code still opens."
            )
        ) from fault


def _use_recovery(staff: Staff, code: str, at: datetime) -> bool:
    """Use a recovery code up. Its owner hears of it."""
    with transaction.atomic():
        if not good_codes(staff).filter(digest=recovery.digest_of(code)).update(used_at=at):
            return False
        left = good_codes(staff).count()
        trail.record(staff, "recovery_code.used", "staff", staff.reference, at=at, detail={"left": left})
        tell_owner(staff, gettext_noop("a recovery code was used"), at=at)
    return True


def passkey_of(answer: Answer) -> Factor | None:
    """The passkey that claims to answer, whoever's it is."""
    found = Factor.objects.filter(credential_id=passkeys.credential_in(answer), removed_at__isnull=True)
    return found.select_related("staff__site").first()


def check_passkey(answer: Answer, *, at: datetime, of: Staff | None = None) -> Staff:
    """See that a passkey answered what was asked; returns whose it is. Refused where it is somebody else's."""
    row = passkey_of(answer)
    if row is None or (of is not None and row.staff_id != of.pk):
        raise WrongPasskey(_("This passkey is not one of this account. Nothing was done."))
    counter = passkeys.counter_of(answer, bytes(row.public_key or b""))
    with transaction.atomic():
        row = Factor.objects.select_for_update(of=("self",)).select_related("staff__site").get(pk=row.pk)
        copied = counter <= row.uses if counter or row.uses else False
        if row.removed_at is None and not copied:
            row.uses, row.used_at = counter, at
            row.save(update_fields=["uses", "used_at"])
            return row.staff
    trail.record(None, "passkey.counted_back", "staff", row.staff.reference, at=at, detail={"factor": str(row.pk)})
    raise WrongPasskey(_("This passkey counts backwards, as a copy would. Remove it and make a new one."))
