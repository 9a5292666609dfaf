"""Who comes on the day of whoever is signed in, or on one of the days after it."""

from __future__ import annotations

from datetime import date, datetime, timedelta
from uuid import UUID

from caseload.visit.selectors import Planned, unsaid_before, visits_of_day
from clinic import access, clock
from clinic.access import Action, Scope
from clinic.staff.models import Staff


def who_comes(actor: Staff, *, at: datetime, day: date | None = None, sites: bool = False) -> list[Planned]:
    """A therapist's own people and those whom they cover; for an assistant and a lead everybody of their site. `day`:
    today where none is given. `sites`: for whoever's reach is the whole clinic, everybody of every site."""
    zone = actor.site.time_zone
    asked = day or clock.local_day(at, zone)
    return visits_of_day(actor, asked, at=at, zone=zone, site_id=_within(actor, at, sites=sites))


def who_was_to_come(actor: Staff, *, at: datetime) -> list[Planned]:
    """Of the days before today, among the same people and those of every site for whoever's reach is the whole clinic:
    who was planned, while nobody said whether they came."""
    zone = actor.site.time_zone
    site_id = _within(actor, at, sites=True)
    return unsaid_before(actor, clock.local_day(at, zone), at=at, zone=zone, site_id=site_id)


def _within(actor: Staff, at: datetime, *, sites: bool) -> UUID | None:
    """The site that is meant whole; none where the permission alone says whom the actor sees."""
    reach = access.permit(actor, Action.RECORD, at)
    return actor.site_id if reach is not Scope.OWN and not (sites and reach is Scope.ALL) else None


def days_ahead(actor: Staff, *, at: datetime) -> list[date]:
    """Today and the six days after it, by the clocks of the actor's site."""
    today = clock.local_day(at, actor.site.time_zone)
    return [today + timedelta(days=number) for number in range(7)]
