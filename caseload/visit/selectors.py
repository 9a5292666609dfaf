"""Who comes when."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime, timedelta
from uuid import UUID

from django.db.models import QuerySet

from caseload.visit.models import Visit, VisitState, still_planned
from caseload.words import instant_words
from clinic import access, clock
from clinic.access import Action
from clinic.staff.models import Staff


@dataclass(frozen=True, slots=True)
class Planned:
    """One session of the plan."""

    visit_id: UUID
    version: int
    episode_id: UUID
    reference: str
    person: str
    number: str
    starts_at: datetime
    minutes: int
    state: str
    state_words: str
    staff_id: UUID
    staff: str
    site_id: UUID
    site: str
    zone: str  # whose clocks the session goes by
    note: str
    asks: bool  # its time is past, and nobody said whether they came


def visits_of_day(
    actor: Staff, day: date, *, at: datetime, zone: str, site_id: UUID | None = None, staff_id: UUID | None = None
) -> list[Planned]:
    """Who comes on a day by the clocks of `zone`, to a site or a therapist where one is named; not the cancelled."""
    rows = _between(day, day + timedelta(days=1), zone).exclude(state=VisitState.CANCELLED)
    if staff_id is not None:
        rows = rows.filter(staff_id=staff_id)
    return _seen(actor, rows, at, site_id)


def unsaid_before(
    actor: Staff, day: date, *, at: datetime, zone: str, site_id: UUID | None = None, days: int = 28
) -> list[Planned]:
    """The sessions of the `days` before a day that nobody began and of which nobody said what became, the oldest first;
    of closed episodes none."""
    rows = _between(day - timedelta(days=days), day, zone).filter(state=VisitState.PLANNED, starts_at__lt=at)
    rows = rows.filter(episode__closed_at__isnull=True)
    return _seen(actor, rows, at, site_id)


def _between(first: date, end: date, zone: str) -> QuerySet[Visit]:
    return Visit.objects.filter(starts_at__gte=clock.day_starts(first, zone), starts_at__lt=clock.day_starts(end, zone))


def _seen(actor: Staff, rows: QuerySet[Visit], at: datetime, site_id: UUID | None) -> list[Planned]:
    seen = access.scoped(actor, Action.SEE_PERSON, rows if site_id is None else rows.filter(site_id=site_id), at=at)
    return [
        _row(row, at) for row in seen.select_related("episode__person", "staff", "site").order_by("starts_at", "pk")
    ]


def visits_of_episode(actor: Staff, episode_id: UUID, *, at: datetime, past: int = 10) -> list[Planned]:
    """What is planned for an episode, soonest first, after the last few that were (newest of those last)."""
    rows = access.scoped(actor, Action.SEE_PERSON, Visit.objects.filter(episode_id=episode_id), at=at)
    rows = rows.select_related("episode__person", "staff", "site")
    before = list(rows.filter(starts_at__lt=at).order_by("-starts_at")[:past])
    return [_row(row, at) for row in [*reversed(before), *rows.filter(starts_at__gte=at).order_by("starts_at")]]


def booked_with(actor: Staff, episode_id: UUID, staff_id: UUID, *, at: datetime) -> list[str]:
    """When the sessions of a person are that are still to come with one therapist, in words, soonest first."""
    rows = Visit.objects.filter(still_planned(at), episode_id=episode_id, staff_id=staff_id)
    seen = access.scoped(actor, Action.SEE_PERSON, rows, at=at).select_related("site").order_by("starts_at")
    return [instant_words(row.starts_at, row.site.time_zone) for row in seen]


def _row(row: Visit, at: datetime) -> Planned:
    return Planned(
        visit_id=row.pk,
        version=row.version,
        episode_id=row.episode_id,
        reference=row.episode.reference,
        person=row.episode.person.full_name,
        number=row.episode.person.number,
        starts_at=row.starts_at,
        minutes=row.minutes,
        state=row.state,
        state_words=row.get_state_display(),
        staff_id=row.staff_id,
        staff=row.staff.name,
        site_id=row.site_id,
        site=row.site.name,
        zone=row.site.time_zone,
        note=row.note,
        asks=row.state == VisitState.PLANNED and row.starts_at < at,
    )
