"""Whoever stands before a door: a role, and a relation to one person."""

from __future__ import annotations

from datetime import timedelta
from enum import StrEnum
from typing import Any

from caseload.emergency.models import EmergencyAccess
from caseload.models import Assignment, Cover, Episode
from clinic.access import Action, Scope, reach_of
from clinic.access.policy import IN_EMERGENCY
from clinic.staff.models import Staff
from clinic.staff.roles import Role
from tests.makers import a_site, a_staff, now


class Relation(StrEnum):
    """How somebody stands to the person whom an address names."""

    OWN = "own"
    COVER_NOW = "cover now"
    COVER_OVER = "cover over"
    SAME_SITE = "same site"
    OTHER_SITE = "other site"
    EMERGENCY = "emergency"
    NONE = "none"  # no role at all today


def somebody(role: Role, relation: Relation, world: dict[str, Any]) -> Staff:
    """A member of staff with this role who stands so to the person of the world, and to the other one, to whom a fact
    can be moved."""
    episode = Episode.objects.get(pk=world["episode_id"])
    near = relation in (Relation.SAME_SITE, Relation.NONE)
    staff = a_staff(role, site=episode.site if near else a_site("Quay Street"))
    mine: dict[str, Any] = {"episode": episode, "staff": staff, "made_by": world["lead"]}
    both = Episode.objects.filter(
        pk__in=(episode.pk, world["other_episode_id"])
    )  # a fact is moved from one to the other
    if relation is Relation.OWN:
        Assignment.objects.filter(episode__in=both).update(staff=staff)
    elif relation is Relation.COVER_NOW:
        for one in both:
            Cover.objects.create(
                **{**mine, "episode": one}, period=(now() - timedelta(days=1), now() + timedelta(days=1))
            )
    elif relation is Relation.COVER_OVER:
        Cover.objects.create(period=(now() - timedelta(days=9), now() - timedelta(days=8)), **mine)
    elif relation is Relation.EMERGENCY:
        period = (now() - timedelta(minutes=5), now() + timedelta(minutes=50))
        EmergencyAccess.objects.create(episode=episode, staff=staff, period=period, reason="They fell outside.")
    elif relation is Relation.NONE:
        staff.role_terms.all().delete()
    return staff


def may(role: Role, relation: Relation, action: Action, *, about_a_person: bool) -> bool:
    """What POLICY says, worked out here once more: by role, scope and relation."""
    if relation is Relation.NONE:
        return False
    scope = reach_of({role}, action)
    if scope is None or not about_a_person or scope is Scope.ALL:
        return scope is not None
    if relation is Relation.EMERGENCY and action in IN_EMERGENCY:
        return True
    if scope is Scope.SITE:
        return relation is Relation.SAME_SITE
    return relation in (Relation.OWN, Relation.COVER_NOW)
