"""Reviews that took place.

What they found is in the record, which registers who knows of them.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from uuid import UUID

from caseload.above import Above
from caseload.review.selectors import Due


@dataclass(frozen=True, slots=True)
class Held:
    """A review of the record: its day at the site, its kind in words, what it found."""

    entry: UUID
    day: date
    kind: str
    found: str


# Of an episode, with its site's time zone: which reviews took place.
reviews: Above[[UUID, str], Sequence[Held]] = Above("the reviews")
register = reviews.register


def with_held(planned: Sequence[Due], episode_id: UUID, zone: str) -> tuple[list[tuple[Due, str]], list[Held]]:
    """The planned reviews, each with what the one that settled it found, and those that settled none, the newest
    first."""
    held = {one.entry: one for one in reviews(episode_id, zone)}
    rows = [(row, held[row.entry].found if row.entry in held else "") for row in planned]
    used = {row.entry for row in planned}
    return rows, [one for one in reversed(held.values()) if one.entry not in used]
