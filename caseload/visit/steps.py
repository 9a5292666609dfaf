"""Inner steps on planned sessions, in the caller's transaction."""

from __future__ import annotations

from datetime import datetime, timedelta
from uuid import UUID

from caseload.visit.models import Visit, VisitState, still_planned
from clinic.audit import trail
from clinic.clock import day_starts, local_day
from clinic.staff.models import Staff


def attended(episode_id: UUID, *, actor: Staff, opened_at: datetime, zone: str, at: datetime) -> Visit | None:
    """A session was opened: of what was planned for that day at the site, the nearest has come about. Nothing where
    nothing is planned, or somebody has said what became of it."""
    start = day_starts(local_day(opened_at, zone), zone)
    end = day_starts(local_day(opened_at, zone) + timedelta(days=1), zone)
    planned = Visit.objects.select_for_update(no_key=True).filter(
        episode_id=episode_id, state=VisitState.PLANNED, starts_at__gte=start, starts_at__lt=end
    )
    visit = min(planned, key=lambda one: abs(one.starts_at - opened_at), default=None)
    if visit is None:
        return None
    visit.state, visit.version = VisitState.CAME, visit.version + 1
    visit.save(update_fields=["state", "version"])
    detail = {"version": visit.version, "state": VisitState.CAME}
    trail.record(actor, "visit.came", "visit", visit.pk, at=at, episode=episode_id, detail=detail)
    return visit


def hand_on_visits(episode_id: UUID, whose: UUID, to: Staff, *, actor: Staff, at: datetime) -> None:
    """The sessions of a person that are still to come with one therapist are with another: a trail row for each."""
    rows = Visit.objects.filter(still_planned(at), episode_id=episode_id, staff_id=whose).exclude(staff=to)
    for visit in rows.select_for_update(no_key=True):
        visit.staff, visit.version = to, visit.version + 1
        visit.save(update_fields=["staff", "version"])
        detail = {"version": visit.version, "staff": to.reference}
        trail.record(actor, "visit.handed_on", "visit", visit.pk, at=at, episode=episode_id, detail=detail)
