"""Who waits, for how long, and what their knee needs."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime
from uuid import UUID

from django.utils.translation import gettext as _

from caseload.person.models import Person
from caseload.person.selectors import people_named
from caseload.referral.details import ReferralDetails
from caseload.referral.models import Referral
from caseload.referral.waiting import Wait, wait_on
from caseload.words import age_on
from clinic import access, clock
from clinic.access import Action
from clinic.errors import Conflict
from clinic.staff.models import Staff


@dataclass(frozen=True, slots=True)
class Waiting:
    """One row of the waiting list."""

    referral_id: UUID
    version: int
    person_id: UUID
    name: str
    number: str
    second_identifier: str
    born_on: date
    age: int
    side: str
    side_words: str
    level: str
    urgency: str
    urgency_words: str
    features: tuple[str, ...] | None  # None: nobody knows the knee yet
    wait: Wait
    received_on: date
    referrer: str
    reason: str
    site_id: UUID
    site: str


def waiting_list(actor: Staff, *, at: datetime) -> list[Waiting]:
    """Everybody who waits within the actor's reach: over the limit first, the more urgent before the less."""
    rows = Referral.objects.filter(accepted_at__isnull=True, ended_at__isnull=True).select_related("person", "site")
    found = [_row(row, at) for row in access.scoped(actor, Action.SEE_CASELOAD, rows, at=at)]
    return sorted(found, key=_rank)


def _rank(row: Waiting) -> tuple[bool, int, int, date, str]:
    """Over the limit, by urgency; then whoever is furthest beyond theirs, or nearest to it."""
    over = row.wait.over > 0
    return not over, row.wait.limit if over else 0, row.wait.limit - row.wait.days, row.received_on, row.name


def waiting_referral(actor: Staff, referral_id: UUID, *, at: datetime) -> Waiting:
    """One row of the waiting list. NotFound where it is not the actor's to see, Conflict where it no longer waits."""
    rows = Referral.objects.select_related("person", "site")
    row = access.get(actor, Action.SEE_CASELOAD, rows, at=at, pk=referral_id)
    unless_done(row)
    return _row(row, at)


def to_put_right(actor: Staff, referral_id: UUID, *, at: datetime) -> tuple[Waiting, ReferralDetails]:
    """The same for whoever may put the referral right, with what it says."""
    rows = Referral.objects.select_related("person", "site")
    row = access.get(actor, Action.TAKE_REFERRAL, rows, at=at, pk=referral_id)
    unless_done(row)
    return _row(row, at), ReferralDetails(**{name: getattr(row, name) for name in ReferralDetails.__dataclass_fields__})


@dataclass(frozen=True, slots=True)
class Known:
    """Somebody who is known here, with the referral by which they wait, if they do."""

    person: Person
    waiting: UUID | None


def known_here(actor: Staff, text: str, *, at: datetime) -> list[Known]:
    """Who is known here by a beginning of number or name; whoever waits must not be taken twice."""
    found = people_named(actor, text, at=at)
    rows = Referral.objects.filter(accepted_at__isnull=True, ended_at__isnull=True, person__in=found)
    waits = dict(access.scoped(actor, Action.TAKE_REFERRAL, rows, at=at).values_list("person_id", "pk"))
    return [Known(person, waits.get(person.pk)) for person in found]


def unless_done(row: Referral) -> None:
    """Conflict where a referral no longer waits."""
    if row.accepted_at is not None or row.ended_at is not None:
        said = (
            _("{person} has been assigned already. Go back to the caseload and look again.")
            if row.accepted_at
            else _("{person} was taken off the list already. Go back to the caseload and look again.")
        )
        raise Conflict(said.format(person=row.person.full_name))


def _row(row: Referral, at: datetime) -> Waiting:
    today = clock.local_day(at, row.site.time_zone)
    person = row.person
    return Waiting(
        referral_id=row.pk,
        version=row.version,
        person_id=person.pk,
        name=person.full_name,
        number=person.number,
        second_identifier=person.second_identifier,
        born_on=person.born_on,
        age=age_on(person.born_on, today),
        side=row.side,
        side_words=row.get_side_display(),
        level=row.get_level_display(),
        urgency=row.urgency,
        urgency_words=row.get_urgency_display(),
        features=None if row.features is None else tuple(row.features),
        wait=wait_on(row.received_on, row.urgency, today),
        received_on=row.received_on,
        referrer=row.referrer,
        reason=row.reason,
        site_id=row.site_id,
        site=row.site.name,
    )
