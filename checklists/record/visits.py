"""A session that is opened tells what became of the planned one: they came."""

from __future__ import annotations

from collections.abc import Sequence

from caseload.visit.steps import attended
from checklists.domain import Entry
from checklists.record.lock import Locked
from checklists.record.reception import Reception


def follow_visits(reception: Reception, locked: Locked, came: Sequence[Entry]) -> None:
    """What the sessions opened among the new entries do to the plans, in the same transaction."""
    for entry in came:
        if entry.kind == "session_opened":
            attended(
                locked.episode_id,
                actor=reception.actor,
                opened_at=entry.instant,
                zone=locked.time_zone,
                at=reception.at,
            )
