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


def of_alert(episode_id: UUID, severity: str, *, happened_at: datetime, at: datetime) -> set[UUID]:
    """Critical ones go to the therapists and the leads, others to the therapists; to the leads where nobody carries
    them."""
    carrying = therapists(episode_id, (happened_at, at))
    return carrying | leads(at) if severity == Severity.CRITICAL or not carrying else carrying


def therapists(episode_id: UUID, instants: Iterable[datetime]) -> set[UUID]:
    """Whoever carried or covered the episode at one of these instants, and still works here."""
    when = Q()
    for instant in instants:
        when |= Q(period__contains=instant)
    here = Q(episode_id=episode_id, staff__is_active=True)
    assigned = Assignment.objects.filter(here, when).values_list("staff_id", flat=True)
    covering = Cover.objects.filter(here, when).values_list("staff_id", flat=True)
    return {*assigned, *covering}


def leads(at: datetime) -> set[UUID]:
    """The clinic leads of today."""
    terms = RoleTerm.objects.filter(role=Role.CLINIC_LEAD, period__contains=at.date(), staff__is_active=True)
    return set(terms.values_list("staff_id", flat=True))


def with_role(role: Role, at: datetime) -> set[UUID]:
    """Everybody who holds a role today."""
    terms = RoleTerm.objects.filter(role=role, period__contains=at.date(), staff__is_active=True)
    return set(terms.values_list("staff_id", flat=True))
