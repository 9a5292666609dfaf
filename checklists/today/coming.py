"""Who comes on the day of whoever is signed in, or on one of the days after it."""

from __future__ import annotations

from datetime import datetime, timedelta

from caseload.visit.selectors import Planned, visits_of_day
from clinic import access, clock
from clinic.access import Action, Scope
from clinic.staff.models import Staff


def who_comes(actor: Staff, *, at: datetime, days_ahead: int = 0) -> list[Planned]:
    """A therapist's own people and those whom they cover; for an assistant and a lead everybody of their site."""
    zone, whole_site = actor.site.time_zone, access.permit(actor, Action.RECORD, at) is not Scope.OWN
    day = clock.local_day(at, zone) + timedelta(days=days_ahead)
    return visits_of_day(actor, day, at=at, zone=zone, site_id=actor.site_id if whole_site else None)
