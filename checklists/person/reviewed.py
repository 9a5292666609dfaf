"""The reviews in the record of a person, for their plan."""

from __future__ import annotations

from uuid import UUID

from caseload.review.held import Held
from caseload.review.models import ReviewKind
from checklists.person.settings import facts_of
from checklists.words.tables import worded
from clinic.clock import local_day


def reviewed(episode_id: UUID, zone: str) -> list[Held]:
    """Those that were not struck out, in their order. One statement."""
    facts, struck = facts_of(episode_id, ("review",))
    return [
        Held(
            UUID(fact["id"]),
            local_day(at, zone),
            str((ReviewKind.FALL if fact.get("of") else ReviewKind.ROUTINE).label),
            ". ".join(
                filter(None, [worded(fact["outcome"], "outcome") if fact.get("outcome") else "", fact.get("note")])
            ),
        )
        for fact, at, _by in facts
        if fact["id"] not in struck
    ]
