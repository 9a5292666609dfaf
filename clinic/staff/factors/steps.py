"""Inner steps of the services of second factors. None of them opens a transaction."""

from __future__ import annotations

from datetime import datetime
from uuid import UUID

from django.db.models.functions import Lower
from django.utils.translation import gettext as _
from django.utils.translation import gettext_noop

from clinic.access import Assurance
from clinic.audit import trail
from clinic.errors import Conflict, Invalid, NotFound
from clinic.staff import sessions
from clinic.staff.factors.models import Factor, Kind, in_use, void_codes
from clinic.staff.factors.news import tell_owner
from clinic.staff.models import Staff

MOST = 10  # factors a person: nobody holds more, and a list stays a list


def locked(staff: Staff) -> Staff:
    """The account, locked for what comes."""
    return Staff.objects.select_for_update(of=("self",), no_key=True).select_related("site").get(pk=staff.pk)


def own_factor(staff: Staff, factor_id: UUID) -> Factor:
    """A factor that somebody has, locked."""
    row = in_use(staff).select_for_update().filter(pk=factor_id).first()
    if row is None:
        raise NotFound(_("There is no such factor, or it was removed already."))
    return row


def usable_name(staff: Staff, name: str, *, but: UUID | None = None) -> str:
    """What its owner calls a factor: something, and not what another is called."""
    name = name.strip()
    if not name or len(name) > 60:
        raise Invalid(_("Give it a name of at most 60 letters, such as 'my telephone'."))
    others = in_use(staff).annotate(lower=Lower("name")).filter(lower=name.lower())
    if any(row.pk != but for row in others):
        raise Conflict(_("You have a factor with the name {name} already.").format(name=name))
    return name


# What the owner is told: written down in English, said in their own language when the message goes out.
WHAT: dict[str, dict[str, str]] = {
    "added": {
        Kind.TOTP: gettext_noop("a factor was added (one-time codes from an app)"),
        Kind.PASSKEY: gettext_noop("a factor was added (passkey)"),
    },
    "removed": {
        Kind.TOTP: gettext_noop("a factor was removed (one-time codes from an app)"),
        Kind.PASSKEY: gettext_noop("a factor was removed (passkey)"),
    },
}


def added(staff: Staff, row: Factor, *, at: datetime) -> Factor:
    """Write a new factor. The session in which it was added has shown two factors from here on."""
    if in_use(staff).count() >= MOST:
        raise Conflict(_("There are {most} factors already. Remove one that you no longer use.").format(most=MOST))
    row.save(force_insert=True)
    sessions.raise_to(Assurance.TWO_FACTORS)
    changed(staff, staff, "factor.added", WHAT["added"][row.kind], at=at, factor=str(row.pk))
    return row


def taken_away(actor: Staff, row: Factor, reason: str, *, at: datetime) -> None:
    """Take a factor out of use, and its secret with it. With the last one the recovery codes go."""
    row.removed_at, row.removed_by, row.removal_reason = at, actor, reason[:400]
    row.secret = row.public_key = row.credential_id = None
    row.save(
        update_fields=["removed_at", "removed_by", "removal_reason", "secret", "public_key", "credential_id"],
    )
    if not in_use(row.staff).exists():
        void_codes(row.staff, at)
    what = WHAT["removed"][row.kind]
    changed(actor, row.staff, "factor.removed", what, at=at, factor=str(row.pk), reason=reason[:400])


def changed(actor: Staff, staff: Staff, verb: str, what: str, *, at: datetime, **detail: object) -> None:
    """Account for a change, and tell the owner of the account."""
    trail.record(actor, verb, "staff", staff.reference, at=at, detail=detail)
    tell_owner(staff, what, at=at)
