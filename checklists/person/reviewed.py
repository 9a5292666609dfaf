"""The reviews in the record of a person, for their plan."""

from __future__ import annotations

from uuid import UUID

import orjson

from caseload.review.held import Held
from caseload.review.models import ReviewKind
from checklists.record.models import EntryContent
from checklists.words.tables import worded
from clinic.clock import local_day


def reviewed(episode_id: UUID, zone: str) -> list[Held]:
    """Those that were not struck out, in their order. One statement."""
    rows = EntryContent.objects.filter(entry__episode=episode_id, entry__kind__in=("review", "struck_out"))
    facts = [
        (orjson.loads(body), at)
        for body, at in rows.order_by("entry__at", "entry__number").values_list("body", "entry__at")
    ]
    struck = {fact["entry"] for fact, _ in facts if fact["kind"] == "struck_out"}
    return [
        Held(
            UUID(fact["id"]),
            local_day(at, zone),
            str((ReviewKind.FALL if fact.get("of") else ReviewKind.ROUTINE).label),
            ". ".join(
                filter(None, [worded(fact["outcome"], "outcome") if fact.get("outcome") else "", fact.get("note")])
            ),
        )
        for fact, at in facts
        if fact["kind"] == "review" and fact["id"] not in struck
    ]
