"""Who is away themselves, as far as their cover says: nobody writes a leave down but by covering its days."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime
from uuid import UUID

from django.utils.translation import gettext as _

from caseload.assignment.models import Cover
from caseload.words import last_words, span_words


@dataclass(frozen=True, slots=True)
class Leave:
    """A span of days on which colleagues stand in for somebody; end excluded, nothing: until further notice."""

    start: datetime
    end: datetime | None
    zone: str

    @property
    def words(self) -> str:
        """'away 23 Nov 2026 – 5 Dec 2026'."""
        return _("away {days}").format(days=span_words(self.start, self.end, self.zone))

    @property
    def until_words(self) -> str:
        """'away to 5 Dec 2026'."""
        return _("away to {day}").format(day=last_words(self.end, self.zone))

    def holds(self, at: datetime) -> bool:
        """Whether they are away at an instant."""
        return self.start <= at and (self.end is None or at < self.end)


def leaves(covers: Iterable[Cover], owners: Mapping[UUID, UUID]) -> dict[UUID, tuple[Leave, ...]]:
    """Staff → when they are away, soonest first: spans on which at least half of those whom they carry are covered.

    `owners`: episode → who carries it, of everybody in care. Half (common practice, no source): cover of one person
    among many is no leave, and a leave stays one though somebody was given to them after it was covered.
    """
    many: dict[UUID, int] = defaultdict(int)
    for owner in owners.values():
        many[owner] += 1
    spans: dict[UUID, dict[Leave, int]] = defaultdict(lambda: defaultdict(int))
    for cover in covers:
        if (whose := owners.get(cover.episode_id)) is not None:
            spans[whose][Leave(cover.period.lower, cover.period.upper, cover.episode.site.time_zone)] += 1
    found = {
        whose: tuple(sorted((one for one, n in each.items() if 2 * n >= many[whose]), key=lambda one: one.start))
        for whose, each in spans.items()
    }
    return {whose: some for whose, some in found.items() if some}
