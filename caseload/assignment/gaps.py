"""On which days of an absence nobody stands in. Pure.

All of it is by the wall clocks of each person's own site, so that people of several sites who are covered on the same
days are covered alike: an instant here is a wall time, written down as if in UTC.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

from caseload.words import span_words

FAR = datetime.max.replace(tzinfo=UTC)  # until further notice
DAY = timedelta(days=1)


def wall(at: datetime, zone: str) -> datetime:
    """What the clocks of a zone show at an instant."""
    return at.astimezone(ZoneInfo(zone)).replace(tzinfo=UTC)


@dataclass(frozen=True, slots=True, order=True)
class Span:
    """From one wall time to another, end excluded."""

    start: datetime
    end: datetime

    def overlaps(self, other: Span) -> bool:
        """Whether they share a moment."""
        return self.start < other.end and other.start < self.end

    @property
    def last_day(self) -> date | None:
        """The last day that it touches; nothing where it has no end."""
        return None if self.end == FAR else (self.end - timedelta(microseconds=1)).date()

    @property
    def words(self) -> str:
        """'27 Nov 2026 – 6 Dec 2026', both included; a single day once."""
        return span_words(self.start, None if self.end == FAR else self.end, "UTC")


def span_of(start: datetime, end: datetime | None, zone: str) -> Span:
    """Somebody's turn, from one instant to another, by the clocks of the site (no end: until further notice)."""
    return Span(wall(start, zone), wall(end, zone) if end is not None else FAR)


def joined(turns: Iterable[Span], *, at: datetime) -> list[Span]:
    """What is left of these turns from a wall time on, soonest first; those that meet or overlap are one."""
    found: list[Span] = []
    for one in sorted(Span(max(each.start, at), each.end) for each in turns if each.end > at):
        if found and one.start <= found[-1].end:
            found[-1] = Span(found[-1].start, max(found[-1].end, one.end))
        else:
            found.append(one)
    return found


def from_today(absence: list[Span], *, at: datetime) -> list[Span]:
    """An absence of which a cover ended today: where others of it begin by the coming midnight, the rest of today
    belongs to it."""
    if absence and at < absence[0].start <= _midnight(at) + DAY:
        return [Span(at, absence[0].end), *absence[1:]]
    return absence


def gaps(absence: Iterable[Span], covers: Iterable[Span]) -> tuple[Span, ...]:
    """The days of an absence that none of these covers holds to their end, each from its beginning; both as `joined`
    gives them."""
    taken, found = list(covers), []
    for whole in absence:
        start = whole.start
        for cover in taken:
            if not whole.overlaps(cover):
                continue
            if start < cover.start:
                found.append(Span(_midnight(start), cover.start))
            start = cover.end
        if start < whole.end:
            found.append(Span(_midnight(start), whole.end))
    return tuple(found)


def _midnight(at: datetime) -> datetime:
    return datetime.combine(at.date(), time(), tzinfo=UTC)
