"""`late_fact`: a fact that arrives late in a long episode, against a replay of that episode's facts.

The floor reads every fact from its line and replays them, once. The programme reads them from the database, does the
same, and writes what follows.
"""

from __future__ import annotations

import uuid
from datetime import datetime, timedelta
from uuid import UUID

from checklists.domain import Protocol
from checklists.domain.replay import replay_lines
from checklists.record.models import EntryContent
from checklists.record.services import record_entries
from checklists.speed.measure import Ratio, in_turns
from checklists.speed.recording import Writer
from clinic.access.standing import standing_as


def measure(writer: Writer, protocol: Protocol, *, pairs: int) -> Ratio:
    """Near misses of an hour ago, each a second after the last, while the record goes on to now."""
    count = 0

    def floor() -> None:
        reports = list(replay_lines(protocol, lines, None, report_line=_complain))
        if len(reports) != 1 or reports[0]["refused"]:
            raise RuntimeError("the replay did not take the episode")

    def program() -> None:
        nonlocal count
        count += 1
        _late(writer, writer.since + timedelta(seconds=count))

    with standing_as(writer.staff):
        lines = _lines(writer.episode_id)
        return in_turns(floor, program, pairs=pairs, warm=2)


def _lines(episode_id: UUID) -> list[bytes]:
    """The record as lines of a history."""
    rows = EntryContent.objects.filter(entry__episode=episode_id).order_by("entry__number")
    return [body.encode() for body in rows.values_list("body", flat=True)]


def _late(writer: Writer, at: datetime) -> None:
    fact = {"id": str(uuid.uuid4()), "kind": "near_miss", "at": at.isoformat()}
    recorded = record_entries(actor=writer.staff, episode_id=writer.episode_id, entries=[fact])
    if recorded.verdicts[0].outcome != "accepted":
        raise RuntimeError(f"the late fact was not taken: {recorded.verdicts[0].error}")


def _complain(number: int, why: str) -> None:
    raise RuntimeError(f"line {number} {why}")
