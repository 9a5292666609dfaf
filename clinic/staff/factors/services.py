"""One's own second factors: added, named, removed; recovery codes. Each change takes all components again, leaves a row
in the trail and a letter to the owner."""

from __future__ import annotations

from uuid import UUID

from django.db import transaction
from django.utils.translation import gettext as _
from django.utils.translation import gettext_noop

from clinic import clock
from clinic.access import Assurance, assurance
from clinic.errors import Conflict, Denied, Invalid
from clinic.staff import sessions
from clinic.staff.factors import recovery, steps, totp, vault
from clinic.staff.factors.models import Factor, Kind, RecoveryCode, in_use, void_codes
from clinic.staff.factors.passkeys import Answer, made
from clinic.staff.factors.policy import Moment, requires
from clinic.staff.factors.shown import Proof
from clinic.staff.models import Staff
from clinic.staff.reauthenticate import check_present_password, confirm


def add_app(*, actor: Staff, proof: Proof, name: str, secret: bytes, code: str) -> Factor:
    """Add an app that makes one-time codes; `code` shows that it has the secret. The code is used up with it."""
    _confirm_change(actor, proof)
    at = clock.now()
    step = totp.matching_step(secret, totp.typed(code), at, after=None)
    if step is None:
        raise Invalid(_("That is not the app's code for this picture. Wait for its next one and type that."))
    with transaction.atomic(durable=True):
        staff = steps.locked(actor)
        row = Factor(staff=staff, kind=Kind.TOTP, name=steps.usable_name(staff, name), added_at=at, last_step=step)
        row.secret = vault.seal(secret, row.about)
        return steps.added(staff, row, at=at)


def add_passkey(*, actor: Staff, proof: Proof, name: str, answer: Answer) -> Factor:
    """Add a passkey that the browser has just made."""
    _confirm_change(actor, proof)
    fresh, at = made(answer), clock.now()
    with transaction.atomic(durable=True):
        staff = steps.locked(actor)
        if Factor.objects.filter(credential_id=fresh.credential_id).exists():
            raise Conflict(_("This passkey is in use already."))
        row = Factor(staff=staff, kind=Kind.PASSKEY, name=steps.usable_name(staff, name), added_at=at)
        row.credential_id, row.public_key, row.uses = fresh.credential_id, fresh.public_key, fresh.uses
        return steps.added(staff, row, at=at)


def rename_factor(*, actor: Staff, factor_id: UUID, proof: Proof, name: str) -> Factor:
    """Call a factor something else."""
    _confirm_change(actor, proof)
    at = clock.now()
    with transaction.atomic(durable=True):
        staff = steps.locked(actor)
        row = steps.own_factor(staff, factor_id)
        row.name = steps.usable_name(staff, name, but=row.pk)
        row.save(update_fields=["name"])
        steps.changed(staff, staff, "factor.renamed", gettext_noop("a factor was renamed"), at=at, factor=str(row.pk))
        return row


def remove_factor(*, actor: Staff, factor_id: UUID, proof: Proof) -> None:
    """Take one's own factor out of use; sessions elsewhere end. The last one stays where the roles must have one."""
    _confirm_change(actor, proof)
    at = clock.now()
    with transaction.atomic(durable=True):
        staff = steps.locked(actor)
        row = steps.own_factor(staff, factor_id)
        if requires(staff.roles_on(at.date()), Moment.SIGN_IN) and in_use(staff).count() == 1:
            raise Conflict(_("Your role needs a second factor, and this is the last one. Add another first."))
        steps.taken_away(staff, row, "removed by its owner", at=at)
        sessions.end_all_but(staff, sessions.here(), by=staff, why="factor removed", at=at)


def make_recovery_codes(*, actor: Staff, proof: Proof) -> list[str]:
    """Ten fresh recovery codes, told this once. Those from before are void."""
    if not in_use(actor).exists():
        raise Conflict(_("Recovery codes stand in for a second factor. Add one first."))
    _confirm_change(actor, proof)
    codes, at = recovery.some_codes(), clock.now()
    with transaction.atomic(durable=True):
        staff = steps.locked(actor)
        void_codes(staff, at)
        RecoveryCode.objects.bulk_create(
            RecoveryCode(staff=staff, digest=recovery.digest_of(code), made_at=at) for code in codes
        )
        steps.changed(
            staff,
            staff,
            "recovery_codes.made",
            gettext_noop("new recovery codes were made; the old ones are void"),
            at=at,
        )
    return codes


def _confirm_change(actor: Staff, proof: Proof) -> None:
    """All components; the password alone where there is no factor yet."""
    assurance.need(Assurance.PASSWORD)
    if in_use(actor).exists():
        confirm(actor, proof, all_components=True)
    elif actor.password_given_at is not None:
        raise Denied(
            _("Choose a password of your own first: the one that you have is known to whoever gave it to you.")
        )
    else:
        check_present_password(actor, proof.password)
