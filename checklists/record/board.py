"""The board row of an episode: all that lists and cards show, worked out with each write so that no list folds
anything.

What a row says of a skill follows from a few values of the fold, and one fact changes few skills. So the JSON of each
is kept in memory under exactly those values; the memory is only a memory, bounded, and never wrong.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import Any

import orjson

from checklists.domain import Episode, Step
from checklists.domain.instant import at_microseconds
from checklists.domain.instant import of as moment

_KEPT = 50_000
_known: dict[tuple[Any, ...], orjson.Fragment] = {}


@dataclass(frozen=True, slots=True)
class Board:
    """The row as JSON, and the instant at which the passing of time alone makes it wrong."""

    body: bytes
    stale_at: datetime | None


def of(episode: Episode, at: datetime) -> Board:
    """The board row as of an instant, given in the site's zone: its calendar decides what is a gap."""
    row = {
        "skills": _skills(episode, at),
        "knees": [one._asdict() for one in episode.knees()],
        "next": [_step(one) for one in episode.next_steps(at)],
        "check_first": [one._asdict() for one in episode.check_first(at)],
        "uncounted": episode.uncounted(),
        "as_of": at,
    }
    changes = episode.changes_at(at)
    return Board(orjson.dumps(row), at_microseconds(changes) if changes is not None else None)


def _skills(episode: Episode, at: datetime) -> dict[str, orjson.Fragment]:
    """Every skill's status, from memory where all that it depends on is as it was."""
    fold = episode.fold
    current, applicable = fold.signed_at(moment(at)[0]), fold.applicable
    falls = orjson.dumps(fold.falls) if fold.falls else b""
    found = {}
    for skill in fold.plan.skills:
        concerned = skill.bit | skill.depends
        key = (
            fold.plan,
            skill.number,
            orjson.dumps(fold.skills[skill.number]),
            current & concerned,
            applicable & concerned,
            fold.features[0] & fold.features[1],
            falls if fold.open_falls & skill.counts else b"",
        )
        if key not in _known:
            if len(_known) >= _KEPT:
                _known.clear()
            _known[key] = orjson.Fragment(orjson.dumps(episode.status(skill.skill.key, at)._asdict()))
        found[skill.skill.key] = _known[key]
    return found


def _step(one: Step) -> dict[str, Any]:
    return {**one._asdict(), "first": [broken._asdict() for broken in one.first]}
