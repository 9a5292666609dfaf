"""What each therapist carries on a day, read in a handful of statements whatever the size of the clinic."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime, timedelta
from uuid import UUID

from django.db.models import Exists, OuterRef, QuerySet

from caseload.assignment.models import Assignment, Cover, ahead
from caseload.episode.models import Pause
from caseload.load.models import LoadWeight
from caseload.load.peak import Stand
from caseload.load.phase import DEFAULTS, SEEN_WITHIN, Minutes, minutes_for, phase_of
from caseload.visit.models import Visit, VisitState
from clinic import clock
from clinic.access import POLICY, Action
from clinic.staff.models import Staff

COVER_AHEAD = timedelta(days=28)


@dataclass(frozen=True, slots=True)
class Carried:
    """An episode as far as it counts: who carries it, in which phase it is, what it costs a week."""

    episode_id: UUID
    staff_id: UUID
    phase: str
    minutes: int


def carriers(at: datetime) -> QuerySet[Staff]:
    """Everybody who may be given an episode on the day, by name."""
    held = {
        "role_terms__role__in": list(POLICY[Action.CARRY_EPISODE]),
        "role_terms__period__contains": at.date(),
    }
    return Staff.objects.filter(is_active=True, **held).select_related("site").distinct().order_by("name")


def weights() -> dict[str, Minutes]:
    """Phase → minutes a week: the clinic's own, or the default where it has set none."""
    own = {row.phase: Minutes(row.minutes_per_week, row.both_sides_extra) for row in LoadWeight.objects.all()}
    return {**DEFAULTS, **own}


def carried(at: datetime, *, zone: str) -> list[Carried]:
    """Every open episode that somebody carries at an instant. Pauses are of the day by the clocks of `zone`."""
    near = Visit.objects.filter(
        episode=OuterRef("episode"),
        state__in=[VisitState.PLANNED, VisitState.CAME],
        starts_at__range=(at - SEEN_WITHIN, at + SEEN_WITHIN),
    )
    resting = Pause.objects.filter(episode=OuterRef("episode"), period__contains=clock.local_day(at, zone))
    rows = (
        Assignment.objects.filter(period__contains=at, episode__closed_at__isnull=True)
        .annotate(near=Exists(near), resting=Exists(resting))
        .values_list(
            *("episode_id", "staff_id", "near", "resting"),
            *("episode__side", "episode__opened_at", "episode__created_at"),
        )
    )
    cost = weights()
    found = []
    for episode_id, staff_id, is_near, rests, side, opened_at, created_at in rows:
        phase = phase_of(paused=rests, age=at - (opened_at or created_at), session_near=is_near)
        found.append(Carried(episode_id, staff_id, phase, minutes_for(phase, side, cost)))
    return found


def covers_to_come(at: datetime) -> list[Cover]:
    """The covers that are in force or to come, with both colleagues' names, soonest first."""
    rows = Cover.objects.filter(ahead(at), episode__closed_at__isnull=True)
    return list(rows.select_related("staff", "episode__site").order_by("period"))


def total(rows: Iterable[Carried | Stand]) -> int:
    """Minutes a week in all."""
    return sum(row.minutes for row in rows)
