"""Adopting the protocol's thresholds: read, then put one's name to them."""

from __future__ import annotations

from django.conf import settings
from django.db import connection, transaction
from django.utils.translation import gettext as _

from checklists.adoption import steps
from checklists.adoption.models import Adoption
from checklists.record import protocols
from clinic import access, clock
from clinic.access import Action
from clinic.errors import Conflict, Stale
from clinic.language import dates
from clinic.staff.models import Staff
from clinic.staff.reauthenticate import Proof, confirm

_ONE_AT_A_TIME = 7_261_002  # an advisory lock of our own: two leads at once adopt it once


def adopt_protocol(*, actor: Staff, digest: str, proof: Proof) -> Adoption:
    """Adopt the thresholds with this digest, those of the current version, as the clinic's own.

    Refused: whoever does not show who they are; a list that is not the one that was shown; a version that is
    adopted already.
    """
    access.permit(actor, Action.ADOPT_PROTOCOL, clock.now())
    confirm(actor, proof)  # before the transaction: what is wrong stays counted
    return _adopted(actor, digest)


@transaction.atomic(durable=True)
def _adopted(actor: Staff, digest: str) -> Adoption:
    at = clock.now()
    version = protocols.current(at)
    with connection.cursor() as cursor:
        cursor.execute("SELECT pg_advisory_xact_lock(%s)", [_ONE_AT_A_TIME])
    first = Adoption.objects.filter(protocol=version).first()
    if first is not None:
        raise Conflict(
            _("{version} was adopted by {name} on {day} already.").format(
                version=version, name=first.adopter_name, day=dates.day(first.adopted_at)
            )
        )
    if steps.shown(version).digest != digest:
        raise Stale(_("The protocol has changed since this list was shown. Read the new list, then adopt it."))
    return steps.write(actor, version, clinic=settings.CLINIC_NAME, at=at)
