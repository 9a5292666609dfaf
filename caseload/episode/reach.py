"""Which episodes lie in somebody's scope: the caseload assigned to them and the covers in force, by date."""

from __future__ import annotations

from datetime import datetime
from typing import TYPE_CHECKING

from django.apps import apps
from django.db.models import Exists, OuterRef, Q, QuerySet

from clinic.access.scope import Scope
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


class OfEpisode:
    """Mix-in for rows that belong to an episode by a field `episode`: they are seen by whoever may see it."""

    @classmethod
    def within(cls, actor: Staff, scope: Scope, at: datetime) -> Q:
        """The rows whose episode lies in the scope."""
        return Q() if scope is Scope.ALL else Q(episode__in=episodes_within(actor, scope, at))
