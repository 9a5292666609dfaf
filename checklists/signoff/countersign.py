"""A clinic lead's countersignature for what the evidence does not carry: name, password, code and reason."""

from __future__ import annotations

from dataclasses import dataclass, field

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from clinic import access, clock
from clinic.access import Action
from clinic.audit import trail
from clinic.errors import Denied, Invalid
from clinic.staff import identity
from clinic.staff.factors.check import NoFactor, WrongCode
from clinic.staff.models import Staff, name_key
from clinic.staff.reauthenticate import NotConfirmed, Proof, Shown, WrongPassword, confirm_colleague
from clinic.staff.sign_in import password_holds

TOGETHER = gettext_lazy(
    "The name, password and code of the countersigning lead do not go together. Nothing was signed."
)


@dataclass(frozen=True, slots=True)
class Countersign:
    """Who countersigns, and why. `code`: of their second factor; they have no sitting at somebody else's screen."""

    username: str
    password: str = field(repr=False)
    reason: str
    code: str = field(default="", repr=False)


@dataclass(frozen=True, slots=True)
class Second:
    """The second signer: who, why, and how they have shown who they are."""

    staff: Staff
    reason: str
    shown: Shown


class CannotCountersign(Denied):
    """The countersignature does not hold."""

    code = "cannot_countersign"


def countersigner(signer: Staff, given: Countersign) -> Second:
    """The lead who countersigns. Refused: the signer themselves, whoever is no clinic lead, anything wrong, no reason,
    an identity that nobody has checked.

    Call it before the transaction of the deed begins: what is wrong must stay counted.
    """
    at = clock.now()
    if not given.reason.strip():
        raise Invalid(_("The countersigning lead says why."), reasons=["reason: is missing"])
    lead = Staff.objects.filter(username_key=name_key(given.username), is_active=True).first()
    if lead is not None and lead.pk == signer.pk:
        raise CannotCountersign(_("Somebody other than the signer must countersign."))
    shown = _shown(signer, lead, given)
    assert lead is not None  # noqa: S101 - _shown has refused nobody
    if access.reach(lead, Action.COUNTERSIGN, at) is None:
        raise CannotCountersign(_("{name} is no clinic lead and cannot countersign.").format(name=lead.name))
    for sentence in identity.faults(lead):
        raise CannotCountersign(sentence)
    return Second(lead, given.reason.strip(), shown)


def _shown(signer: Staff, lead: Staff | None, given: Countersign) -> Shown:
    """How the lead has shown who they are; CannotCountersign where they have not."""
    at = clock.now()
    try:
        if lead is None:
            password_holds(None, given.username, given.password, at=at)
            raise WrongPassword(TOGETHER)
        return confirm_colleague(lead, Proof(given.password, given.code), at_screen_of=signer)
    except (WrongPassword, WrongCode) as refusal:
        subject, why = lead.reference if lead else "unknown name", refusal.code.replace("_", " ")
        trail.record(signer, "countersignature.refused", "staff", subject, at=at, detail={"why": why})
        raise CannotCountersign(TOGETHER) from None
    except NotConfirmed:
        raise CannotCountersign(_("A countersignature takes the lead's password and a code of theirs.")) from None
    except NoFactor:
        raise CannotCountersign(_("The lead must add a second factor first, on the page 'Your sign-in'.")) from None
    except Denied:
        raise CannotCountersign(
            _("The lead must choose a password of their own first: the present one is known to whoever gave it.")
        ) from None
