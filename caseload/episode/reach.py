"""Which episodes lie in somebody's scope: the caseload assigned to them and the covers in force, by date."""

from __future__ import annotations

from datetime import datetime
from typing import TYPE_CHECKING, Any, cast
from uuid import UUID

from django.apps import apps
from django.db.models import Exists, OuterRef, Q, QuerySet

from clinic import access
from clinic.access import Action, Scope
from clinic.staff.models import Staff

if TYPE_CHECKING:
    from caseload.episode.models import Episode


def episode_reach(actor: Staff, scope: Scope, at: datetime) -> Q:
    """The filter on episodes. OWN: assigned to the actor, or covered by them, at the instant `at`."""
    if scope is Scope.ALL:
        return Q()
    if scope is Scope.SITE:
        return Q(site_id=actor.site_id)
    mine = {"episode": OuterRef("pk"), "staff": actor, "period__contains": at}
    assigned = apps.get_model("caseload", "Assignment").objects.filter(**mine)
    covered = apps.get_model("caseload", "Cover").objects.filter(**mine)
    return Q(Exists(assigned)) | Q(Exists(covered))


def episodes_within(actor: Staff, scope: Scope, at: datetime) -> QuerySet[Episode]:
    """The episodes in a scope."""
    rows: QuerySet[Episode] = apps.get_model("caseload", "Episode").objects.filter(episode_reach(actor, scope, at))
    return rows


def in_emergency(actor: Staff, at: datetime) -> QuerySet[Any, UUID]:
    """The ids of the episodes that the actor may read at `at` by emergency access, whosever they are."""
    grants = apps.get_model("caseload", "EmergencyAccess").objects.filter(staff=actor, period__contains=at)
    return cast("QuerySet[Any, UUID]", grants.values_list("episode", flat=True))


def relation(actor: Staff, episode: Episode, at: datetime) -> str:
    """Why somebody may read an episode, for the trail: carries, covers, same site, role, or by emergency access."""
    mine = {"episode": episode, "staff": actor, "period__contains": at}
    if apps.get_model("caseload", "Assignment").objects.filter(**mine).exists():
        return "carries them"
    if apps.get_model("caseload", "Cover").objects.filter(**mine).exists():
        return "covers"
    scope = access.reach(actor, Action.SEE_PERSON, at)
    if scope is Scope.ALL:
        return "by role"
    if scope is Scope.SITE and episode.site_id == actor.site_id:
        return "same site"
    return "emergency access"


class OfEpisode:
    """Mix-in for rows that belong to an episode by a field `episode`: they are seen by whoever may see it."""

    @classmethod
    def within(cls, actor: Staff, scope: Scope, at: datetime) -> Q:
        """The rows whose episode lies in the scope."""
        return Q() if scope is Scope.ALL else Q(episode__in=episodes_within(actor, scope, at))

    @classmethod
    def in_emergency(cls, actor: Staff, at: datetime) -> Q:
        """The rows of the episodes that the actor may read by emergency access."""
        return Q(episode__in=in_emergency(actor, at))
