"""Until when a record is kept: pure rules, without a database. How long is for the law and for local policy to say."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date


@dataclass(frozen=True, slots=True)
class Ended:
    """An episode, or a referral that never became one: when it ended, and how many years its site keeps it.

    `years` is nothing where the site keeps for ever; `on` where it has not ended.
    """

    on: date | None
    years: int | None


@dataclass(frozen=True, slots=True)
class Kept:
    """How long a person's record is kept: up to and including a day, for ever, or not yet ended."""

    until: date | None
    open: bool = False

    @property
    def for_ever(self) -> bool:
        """Nothing says when it may go."""
        return self.until is None and not self.open

    def past(self, day: date) -> bool:
        """Whether the last day has gone by."""
        return self.until is not None and day > self.until


def kept(ends: Iterable[Ended]) -> Kept:
    """The record is kept as long as the longest-kept of its parts; one without an end, or kept for ever, keeps all."""
    ends = list(ends)
    if not ends or any(one.on is None for one in ends):
        return Kept(None, open=bool(ends))
    days = [last_day(one.on, one.years) for one in ends if one.on is not None and one.years is not None]
    return Kept(max(days)) if len(days) == len(ends) else Kept(None)


def last_day(ended: date, years: int) -> date:
    """The same day so many years on; of 29 February the day before where there is none, at most the end of time."""
    year = ended.year + years
    if year > date.max.year:
        return date.max
    try:
        return ended.replace(year=year)
    except ValueError:
        return date(year, 2, 28)
