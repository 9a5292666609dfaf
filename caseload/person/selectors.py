"""A person's own page of the plan: who they are, whom to reach, what they weigh."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal
from uuid import UUID

from django.db.models import Q
from django.utils.translation import gettext as _

from caseload.person.details import PersonDetails
from caseload.person.erased import unless_erased
from caseload.person.models import Person
from caseload.words import age_on
from clinic import access, clock
from clinic.access import Action
from clinic.errors import NotFound
from clinic.staff.models import Staff


@dataclass(frozen=True, slots=True)
class PersonFile:
    """What is written down about a person, with the version that an edit must name."""

    person_id: UUID
    version: int
    name: str
    age: int
    site: str
    details: PersonDetails
    weights: tuple[tuple[date, Decimal], ...]


def person_file(actor: Staff, person_id: UUID, *, at: datetime) -> PersonFile:
    """One person. NotFound where they are not the actor's to see; erased: Gone."""
    person = access.get(actor, Action.SEE_PERSON, Person.objects.select_related("site"), at=at, pk=person_id)
    unless_erased(person)
    details = PersonDetails(**{name: getattr(person, name) for name in PersonDetails.__dataclass_fields__})
    weights = person.weights.order_by("-measured_on").values_list("measured_on", "kg")
    return PersonFile(
        person_id=person.pk,
        version=person.version,
        name=person.full_name,
        age=age_on(person.born_on, clock.local_day(at, person.site.time_zone)),
        site=person.site.name,
        details=details,
        weights=tuple(weights),
    )


def known_person(actor: Staff, person_id: str, *, at: datetime) -> PersonFile:
    """Somebody named in an address, for whoever takes referrals. What is no id at all is nobody."""
    try:
        key = UUID(person_id)
    except ValueError:
        raise NotFound(_("There is nobody at this address. Look them up again.")) from None
    return person_file(actor, key, at=at)


def people_named(actor: Staff, text: str, *, at: datetime, most: int = 20) -> list[Person]:
    """Persons whose number, second identifier or name begins with a text, for whoever takes referrals."""
    words = text.replace("\0", " ").split()
    kept = Person.objects.filter(erased_at__isnull=True).select_related("site")
    rows = access.scoped(actor, Action.TAKE_REFERRAL, kept, at=at)
    for word in words:
        rows = rows.filter(
            Q(number__istartswith=word)
            | Q(second_identifier__istartswith=word)
            | Q(given_name__istartswith=word)
            | Q(called__istartswith=word)
            | Q(family_name__istartswith=word)
        )
    return list(rows.order_by("family_name", "given_name")[:most]) if words else []
