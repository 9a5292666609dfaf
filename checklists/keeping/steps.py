"""What several services of this room share; opens no transaction."""

from __future__ import annotations

from datetime import datetime
from uuid import UUID

import orjson
from django.db import connection
from django.db.models import Max, QuerySet

from caseload.models import Episode, Person, Referral
from caseload.person.erased import erased_words, unless_erased
from checklists.keeping.models import LegalHold, Retention
from checklists.keeping.retention import Ended, Kept, kept
from clinic import access
from clinic.access import Action
from clinic.clock import local_day
from clinic.staff.models import Staff

__all__ = ["erase", "erased_words", "held", "kept_of", "person_to", "retention_years", "unless_erased"]


def person_to(actor: Staff, action: Action, person_id: UUID, *, at: datetime) -> Person:
    """A person with whom the actor may do this. Erased: Gone."""
    rows = Person.objects.select_related("site")
    return unless_erased(access.get(actor, action, rows, at=at, pk=person_id))


def retention_years() -> dict[UUID, int | None]:
    """Site → years, as set last; a site that is not here keeps for ever."""
    newest = Retention.objects.values("site").annotate(newest=Max("id")).values("newest")
    return dict(Retention.objects.filter(pk__in=newest).values_list("site_id", "years"))


def held(person_id: UUID) -> QuerySet[LegalHold]:
    """The holds in force on a person."""
    return LegalHold.objects.filter(person_id=person_id, lifted_at__isnull=True)


def kept_of(people: QuerySet[Person]) -> dict[UUID, Kept]:
    """How long the record of each of these is kept. Three statements."""
    years = retention_years()
    ends: dict[UUID, list[Ended]] = {}
    episodes = Episode.objects.filter(person__in=people)
    for person, site, closed, zone in episodes.values_list("person_id", "site_id", "closed_at", "site__time_zone"):
        ends.setdefault(person, []).append(Ended(local_day(closed, zone) if closed else None, years.get(site)))
    referrals = Referral.objects.filter(person__in=people, accepted_at__isnull=True)
    for person, site, ended, zone in referrals.values_list("person_id", "site_id", "ended_at", "site__time_zone"):
        ends.setdefault(person, []).append(Ended(local_day(ended, zone) if ended else None, years.get(site)))
    return {person: kept(parts) for person, parts in ends.items()}


def erase(erasure_id: UUID) -> dict[str, int]:
    """Have the database's own function do it; it refuses whatever two people have not decided and accounted for.

    Returns table → rows that went or were emptied.
    """
    with connection.cursor() as cursor:
        cursor.execute("SELECT erase_person(%s)::text", [erasure_id])
        (counts,) = cursor.fetchone()
    found: dict[str, int] = orjson.loads(counts)
    return found
