"""Inner steps about persons, for services that do more than one thing at once. They open no transaction."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime

from django.db.models import Max
from django.utils.translation import gettext as _

from caseload.person.details import PersonDetails
from caseload.person.models import Person
from caseload.writes import fit, refused_as
from clinic.audit import trail
from clinic.clock import local_day
from clinic.errors import Conflict, Invalid
from clinic.staff.models import Site, Staff

OLDEST = 120  # years; nobody is known to have lived much longer (from memory)
NUMBER_TAKEN = "caseload_person_number_key"


def new_person(details: PersonDetails, site: Site, *, actor: Staff, at: datetime) -> Person:
    """Write a person down. An empty number becomes the next of the year; one that is taken is refused."""
    today = local_day(at, site.time_zone)
    details = replace(details, number=details.number.strip() or next_number(today.year))
    plausible(details, today.year)
    person = Person(**details.fields(), site=site, created_at=at)
    fit(person)
    with refused_as(lambda: taken(details.number), NUMBER_TAKEN):
        person.save(force_insert=True)
    trail.record(actor, "person.added", "person", person.pk, at=at, detail={"version": 1, "number": person.number})
    return person


def next_number(year: int) -> str:
    """Year and a running number, '26-0041'. Two who ask at once get the same: the database lets one of them have it."""
    prefix = f"{year % 100:02}-"
    last = Person.objects.filter(number__regex=rf"^{prefix}\d{{4}}$").aggregate(last=Max("number"))["last"]
    return f"{prefix}{int(last[3:]) + 1 if last else 1:04}"


def plausible(details: PersonDetails, this_year: int) -> None:
    """A birth date in the future, or so long ago that it is surely mistyped, is refused."""
    if not this_year - OLDEST <= details.born_on.year <= this_year:
        raise Invalid(_("Check the birth date: {year} cannot be.").format(year=details.born_on.year))


def taken(number: str) -> Conflict:
    """The refusal for a number that somebody else has."""
    return Conflict(
        _("The number {number} belongs to somebody else already. Look them up, or give another number.").format(
            number=number
        )
    )
