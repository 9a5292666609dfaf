"""That somebody looked at a person, and why they might: the one way in which pages and API account for it."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from uuid import UUID

from caseload.episode.models import Episode
from caseload.episode.reach import relation
from clinic import access
from clinic.access import Action
from clinic.audit import trail
from clinic.staff.models import Staff


def looked(
    actor: Staff,
    verb: str,
    episode_id: UUID,
    *,
    at: datetime,
    detail: Mapping[str, object] | None = None,
    action: Action = Action.SEE_PERSON,
) -> None:
    """Leave a trail row with the relation in which the actor stands to the person. Refused where they may not see
    them."""
    episode = access.get(actor, action, Episode.objects.all(), at=at, pk=episode_id)
    told = {**(detail or {}), "as": relation(actor, episode, at)}
    trail.record(actor, verb, "episode", episode.reference, at=at, episode=episode.pk, detail=told)
