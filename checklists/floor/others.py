"""To whom a fact could belong that was recorded on the wrong person, and the shape in which it is sent there."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from typing import Any
from uuid import UUID

from caseload.episode.models import Episode
from caseload.words import day_words
from clinic import access
from clinic.access import Action
from clinic.errors import Invalid
from clinic.staff.models import Staff

MOST = 200
CHOSEN = "chosen on the Floor"


def others_than(actor: Staff, episode_id: UUID, *, at: datetime) -> list[dict[str, str]]:
    """Everybody else for whom the actor may record, with both identifiers. One statement."""
    rows = Episode.objects.filter(closed_at__isnull=True).exclude(pk=episode_id).select_related("person")
    seen = access.scoped(actor, Action.RECORD, rows, at=at).order_by("person__family_name", "person__given_name")
    return [
        {
            "episode": str(row.pk),
            "name": row.person.full_name,
            "number": row.person.number,
            "second_identifier": row.person.second_identifier,
            "born": day_words(row.person.born_on),
        }
        for row in seen[:MOST]
    ]


class MoveForm:
    """Which facts, and to whom."""

    def __init__(self, body: Mapping[str, Any]) -> None:
        self._body = body

    def fields(self) -> dict[str, Any]:
        """The fields of the service. Invalid where an id is no UUID."""
        try:
            entries = [UUID(str(one)) for one in self._body["entries"]]
            return {"to_episode": UUID(str(self._body["target"])), "entry_ids": entries}
        except (KeyError, TypeError, ValueError):
            raise Invalid("Say which facts, and to whom they belong. Nothing was moved.") from None
