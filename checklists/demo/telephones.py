"""The second factors of the demo's staff: each has a telephone that makes codes, and two spare ones.

The page of the demo shows the telephone's code: it is the visitor's, who may sign in while the year is being lived
through. The simulator's two processes live through the same day side by side, each with a telephone of its own, because
a code that was used makes earlier ones worthless.
"""

from __future__ import annotations

import hashlib
from datetime import date, timedelta
from uuid import UUID

from django.db.models import QuerySet

from checklists.demo.cast import PASSWORD
from clinic import clock
from clinic.staff.factors import totp
from clinic.staff.factors.models import Factor
from clinic.staff.factors.services import add_app
from clinic.staff.models import Staff
from clinic.staff.reauthenticate import Proof
from clinic.staff.sitting import InMemory, Sitting

NAMES = ("telephone", "spare telephone", "second spare telephone")


def secret_of(staff: Staff, which: int) -> bytes:
    """What a telephone of the demo knows. No secret: everybody in it is invented, and so is this."""
    return hashlib.sha256(f"a telephone of the demo: {staff.username}, {which}".encode()).digest()[: totp.SECRET_BYTES]


def code_of(staff: Staff, which: int) -> str:
    """What a telephone shows at the instant in hand."""
    return totp.code_of(secret_of(staff, which), totp.step_of(clock.now()))


def hand_out(staff: Staff) -> None:
    """The telephones that they do not have yet, added as anybody adds theirs, two minutes apart."""
    had = set(Factor.objects.filter(staff=staff).values_list("name", flat=True))
    for which, name in enumerate(NAMES):
        if name in had:
            continue
        with clock.at_instant(clock.now() + timedelta(minutes=2 * which)):
            proof = Proof(PASSWORD, code_of(staff, 0) if which else "")
            add_app(actor=staff, proof=proof, name=name, secret=secret_of(staff, which), code=code_of(staff, which))


def lay_aside() -> None:
    """Before the days since the last start are lived: what visitors used today does not stand in their way. A demo of
    an older version has a telephone less."""
    short = Staff.objects.filter(pk__in=_who_has(NAMES[0])).exclude(pk__in=_who_has(NAMES[-1]))
    for staff in short:
        hand_out(staff)
    Factor.objects.filter(name__in=NAMES).update(last_step=None)


def _who_has(name: str) -> QuerySet[Factor, UUID]:
    return Factor.objects.filter(name=name).values_list("staff_id", flat=True)


class Telephones:
    """One of the two spare telephones of everybody, and the sittings of the day: the first signature of somebody's day
    takes password and code, the others the password."""

    def __init__(self, half: int) -> None:
        self._which = 1 + half
        self._sittings: dict[UUID, tuple[date, InMemory]] = {}

    def sitting_of(self, staff: Staff) -> Sitting:
        """Today's sitting of somebody."""
        today = clock.now().date()
        day, sitting = self._sittings.get(staff.pk, (None, InMemory()))
        if day != today:
            sitting = InMemory()
            self._sittings[staff.pk] = today, sitting
        return sitting

    def proof_of(self, staff: Staff) -> Proof:
        """What they give in this sitting."""
        all_shown = self.sitting_of(staff).all_shown(staff)
        return Proof(PASSWORD) if all_shown else Proof(PASSWORD, code_of(staff, self._which))

    def code_of(self, staff: Staff) -> str:
        """A code, for whoever countersigns at somebody else's screen."""
        return code_of(staff, self._which)
