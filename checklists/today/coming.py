"""Who comes on the day of whoever is signed in, or on one of the days after it."""

from __future__ import annotations

from datetime import date, datetime, timedelta

from caseload.visit.selectors import Planned, visits_of_day
from clinic import access, clock
from clinic.access import Action, Scope
from clinic.staff.models import Staff


def who_comes(actor: Staff, *, at: datetime, day: date | None = None, sites: bool = False) -> list[Planned]:
    """A therapist's own people and those whom they cover; for an assistant and a lead everybody of their site. `day`:
    today where none is given. `sites`: for whoever's reach is the whole clinic, everybody of every site."""
    zone, reach = actor.site.time_zone, access.permit(actor, Action.RECORD, at)
    whole_site = reach is not Scope.OWN and not (sites and reach is Scope.ALL)
    asked = day or clock.local_day(at, zone)
    return visits_of_day(actor, asked, at=at, zone=zone, site_id=actor.site_id if whole_site else None)


def days_ahead(actor: Staff, *, at: datetime) -> list[date]:
    """Today and the six days after it, by the clocks of the actor's site."""
    today = clock.local_day(at, actor.site.time_zone)
    return [today + timedelta(days=number) for number in range(7)]
