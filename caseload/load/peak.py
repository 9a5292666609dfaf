"""The most that somebody carries for colleagues on any day ahead. Pure."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime

from clinic import clock


@dataclass(frozen=True, slots=True)
class Stand:
    """One person for whom somebody stands in from one instant to another (end excluded; nothing: until further
    notice), at so many minutes a week."""

    start: datetime
    end: datetime | None
    zone: str
    minutes: int

    def holds(self, at: datetime) -> bool:
        """Whether they stand in at an instant."""
        return self.start <= at and (self.end is None or at < self.end)


@dataclass(frozen=True, slots=True)
class Peak:
    """Minutes a week at the most, and the day from which where that is not today."""

    minutes: int
    since: date | None = None


def peak(stands: Sequence[Stand], *, at: datetime) -> Peak:
    """The most that stands at one time, now or later: covers one after the other are not added up. Of several days
    with as much the first. It can only grow where one begins, so that no other instant is looked at."""
    best = Peak(_held(stands, at))
    for one in sorted(stands, key=lambda each: each.start):
        if one.start > at and (many := _held(stands, one.start)) > best.minutes:
            best = Peak(many, clock.local_day(one.start, one.zone))
    return best


def _held(stands: Sequence[Stand], at: datetime) -> int:
    return sum(one.minutes for one in stands if one.holds(at))
