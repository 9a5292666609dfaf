"""Who hears of something about an episode: whoever carries or covers it, and the clinic leads."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime
from uuid import UUID

from django.db.models import Q

from caseload.models import Assignment, Cover
from checklists.alerts.models import Severity
from clinic.staff.models import RoleTerm
from clinic.staff.roles import Role

BOTH_AT_ONCE = Severity.CRITICAL  # of these the leads hear with the therapist, and not only where nobody answers


def of_alert(episode_id: UUID, severity: str, *, happened_at: datetime, at: datetime) -> set[UUID]:
    """Critical ones go to the therapists and the leads, others to the therapists; to the leads where nobody carries
    them."""
    carrying = therapists(episode_id, (happened_at, at))
    return carrying | leads(at) if severity == BOTH_AT_ONCE or not carrying else carrying


def therapists(episode_id: UUID, instants: Iterable[datetime]) -> set[UUID]:
    """Whoever carried or covered the episode at one of these instants, and still works here."""
    return {staff for _episode, staff, _name in _carrying([episode_id], instants)}


def therapists_by_name(episodes: Iterable[UUID], at: datetime) -> dict[UUID, dict[UUID, str]]:
    """Whoever carries or covers each of these episodes at an instant, with their names in order. One statement."""
    found: dict[UUID, dict[UUID, str]] = {}
    for episode, staff, name in sorted(_carrying(episodes, (at,)), key=lambda row: row[2]):
        found.setdefault(episode, {})[staff] = name
    return found


def _carrying(episodes: Iterable[UUID], instants: Iterable[datetime]) -> Iterable[tuple[UUID, UUID, str]]:
    when = Q()
    for instant in instants:
        when |= Q(period__contains=instant)
    here = Q(episode_id__in=episodes, staff__is_active=True)
    what = ("episode_id", "staff_id", "staff__name")
    return (
        Assignment.objects.filter(here, when)
        .values_list(*what)
        .union(Cover.objects.filter(here, when).values_list(*what))
    )


def leads(at: datetime) -> set[UUID]:
    """The clinic leads of today."""
    terms = RoleTerm.objects.filter(role=Role.CLINIC_LEAD, period__contains=at.date(), staff__is_active=True)
    return set(terms.values_list("staff_id", flat=True))


def with_role(role: Role, at: datetime) -> set[UUID]:
    """Everybody who holds a role today."""
    terms = RoleTerm.objects.filter(role=role, period__contains=at.date(), staff__is_active=True)
    return set(terms.values_list("staff_id", flat=True))
