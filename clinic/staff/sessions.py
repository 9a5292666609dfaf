"""The end of a session, accounted for."""

from __future__ import annotations

from clinic import clock
from clinic.audit import trail
from clinic.staff.models import Staff


def sign_out(actor: Staff) -> None:
    """Somebody signs out."""
    trail.record(actor, "session.closed", "staff", actor.reference, at=clock.now())


def time_out(actor: Staff) -> None:
    """Nobody used a session for too long, or it is too old."""
    trail.record(actor, "session.timed_out", "staff", actor.reference, at=clock.now())
