"""Who comes when."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime, timedelta
from uuid import UUID

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
    note: str
    asks: bool  # its time is past, and nobody said whether they came


def visits_of_day(
    actor: Staff, day: date, *, at: datetime, zone: str, site_id: UUID | None = None, staff_id: UUID | None = None
) -> list[Planned]:
    """Who comes on a day by the clocks of `zone`, to a site or a therapist where one is named; not the cancelled."""
    hours = (clock.day_starts(day, zone), clock.day_starts(day + timedelta(days=1), zone))
    rows = Visit.objects.filter(starts_at__gte=hours[0], starts_at__lt=hours[1]).exclude(state=VisitState.CANCELLED)
    if site_id is not None:
        rows = rows.filter(site_id=site_id)
    if staff_id is not None:
        rows = rows.filter(staff_id=staff_id)
    seen = access.scoped(actor, Action.SEE_PERSON, rows, at=at)
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
        note=row.note,
        asks=row.state == VisitState.PLANNED and row.starts_at < at,
    )
