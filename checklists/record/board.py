"""The board row of an episode: everything that lists and cards show, worked out with each write so that no list folds
anything."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

import orjson

from checklists.domain import Episode


@dataclass(frozen=True, slots=True)
class Board:
    """The row as JSON, and the instant at which the passing of time alone makes it wrong."""

    body: bytes
    stale_at: datetime | None


def of(episode: Episode, at: datetime) -> Board:
    """The board row as of an instant. `stale_at` is when the next sign-off lapses."""
    row = {
        "skills": {key: {"status": word} for key, word in episode.status_words(at).items()},
        "knees": [one._asdict() for one in episode.knees()],
        "as_of": at,
    }
    return Board(orjson.dumps(row), None)
