"""Writing persons and their weights down."""

from __future__ import annotations

from datetime import date
from decimal import Decimal
from uuid import UUID

from django.db import transaction
from django.utils.translation import gettext as _

from caseload.person.details import PersonDetails
from caseload.person.erased import unless_erased
from caseload.person.models import Person, Weight
from caseload.person.steps import NUMBER_TAKEN, new_person, plausible, taken
from caseload.writes import differences, fit, refused_as, unless_stale
from clinic import access, clock
from clinic.access import Action
from clinic.audit import trail
from clinic.errors import Invalid
from clinic.staff.models import Site, Staff


@transaction.atomic(durable=True)
def add_person(*, actor: Staff, site_id: UUID, details: PersonDetails) -> Person:
    """Add somebody who has no referral yet. For whoever takes referrals."""
    at = clock.now()
    access.permit(actor, Action.TAKE_REFERRAL, at)
    site = Site.objects.filter(pk=site_id).first()
    if site is None:
        raise Invalid(_("There is no such site. Choose one of the list."))
    return new_person(details, site, actor=actor, at=at)


@transaction.atomic(durable=True)
def edit_person(*, actor: Staff, person_id: UUID, version: int, details: PersonDetails) -> Person:
    """Change what is written about a person. Made from an older version than stands: Stale, with what changed."""
    at = clock.now()
    rows = Person.objects.select_for_update(no_key=True, of=("self",)).select_related("site")
    person = unless_erased(access.get(actor, Action.EDIT_PERSON, rows, at=at, pk=person_id))
    unless_stale(person, version, "person", zone=person.site.time_zone)
    plausible(details, clock.local_day(at, person.site.time_zone).year)
    changed = differences(person, details.fields() if details.number else {**details.fields(), "number": person.number})
    if not changed:
        return person
    fit(person)
    person.version += 1
    with refused_as(lambda: taken(person.number), NUMBER_TAKEN):
        person.save(update_fields=[*changed, "version"])
    trail.record(
        actor, "person.changed", "person", person.pk, at=at, detail={"version": person.version, "fields": changed}
    )
    return person


@transaction.atomic(durable=True)
def note_file_opened(*, actor: Staff, person_id: UUID) -> None:
    """Leave a trail row: who this person is, and whom to reach, was looked at. Refused where the actor may not see
    them."""
    at = clock.now()
    person = access.get(actor, Action.SEE_PERSON, Person.objects.all(), at=at, pk=person_id)
    trail.record(actor, "person.opened", "person", person.pk, at=at, detail={"page": "person and contact"})


@transaction.atomic(durable=True)
def add_weight(*, actor: Staff, person_id: UUID, kg: Decimal, measured_on: date) -> Weight:
    """Note a body weight in kilograms. The same day again replaces it: it was weighed anew, or mistyped."""
    at = clock.now()
    rows = Person.objects.select_related("site")
    person = unless_erased(access.get(actor, Action.EDIT_PERSON, rows, at=at, pk=person_id))
    if not person.born_on <= measured_on <= clock.local_day(at, person.site.time_zone):
        raise Invalid(_("Check the day: a weight is noted for today or a day before."))
    if not 0 < kg < 400:
        raise Invalid(_("Check the weight: it is asked for in kilograms."))
    weight, _made = Weight.objects.update_or_create(person=person, measured_on=measured_on, defaults={"kg": kg})
    trail.record(actor, "person.weighed", "person", person.pk, at=at, detail={"measured_on": measured_on.isoformat()})
    return weight
