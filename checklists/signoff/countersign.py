"""A clinic lead's countersignature for what the evidence does not carry: name, password and reason."""

from __future__ import annotations

from dataclasses import dataclass, field

from clinic import access, clock
from clinic.access import Action
from clinic.audit import trail
from clinic.errors import Denied, Invalid
from clinic.staff.models import Staff
from clinic.staff.sign_in import password_holds


@dataclass(frozen=True, slots=True)
class Countersign:
    """Who countersigns, and why."""

    username: str
    password: str = field(repr=False)
    reason: str


class CannotCountersign(Denied):
    """The countersignature does not hold."""

    code = "cannot_countersign"


def countersigner(signer: Staff, given: Countersign) -> Staff:
    """The lead who countersigns. Refused: the signer themselves, whoever is no clinic lead, a wrong password, no
    reason.

    Call it before the transaction of the deed begins: a wrong password must stay counted.
    """
    at = clock.now()
    if not given.reason.strip():
        raise Invalid("The countersigning lead says why.", reasons=["reason: is missing"])
    lead = Staff.objects.filter(username__iexact=given.username.strip(), is_active=True).first()
    holds = password_holds(lead, given.username, given.password, at=at)
    if lead is None or not holds:
        subject = lead.reference if lead else "unknown name"
        trail.record(
            signer, "countersignature.refused", "staff", subject, at=at, detail={"why": "name or password wrong"}
        )
        raise CannotCountersign(
            "The name and password of the countersigning lead do not go together. Nothing was signed."
        )
    if lead.password_given_at is not None:
        raise CannotCountersign(
            f"{lead.name} must choose a password of their own first: the present one is known to whoever gave it."
        )
    if lead.pk == signer.pk:
        raise CannotCountersign("Somebody other than the signer must countersign.")
    if access.reach(lead, Action.COUNTERSIGN, at) is None:
        raise CannotCountersign(f"{lead.name} is no clinic lead and cannot countersign.")
    return lead
