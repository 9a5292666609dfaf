"""Who is away as far as colleagues stand in, and whom of theirs nobody covers on some of these days."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from uuid import UUID

from django.db.models import OuterRef, Subquery
from django.utils.translation import ngettext

from caseload.assignment.gaps import Span, from_today, gaps, joined, wall
from caseload.assignment.models import Assignment, Cover
from caseload.assignment.selectors import Standing, Turn, covers_ahead
from caseload.episode.models import Episode
from caseload.words import few, may_not_teach
from clinic import access, clock
from clinic.access import Action
from clinic.staff.models import Staff

LONGEST_DAY = timedelta(hours=25)


@dataclass(frozen=True, slots=True)
class Line:
    """What one colleague covers of somebody's people on the same days, and whom of them they may not teach."""

    words: str
    lacks_words: str


@dataclass(frozen=True, slots=True)
class Without:
    """Somebody for whom nobody stands in on some days of an absence."""

    name: str
    spans: tuple[Span, ...]


@dataclass(frozen=True, slots=True)
class Away:
    """Everybody of one therapist for whom somebody stands in; `carried`: how many they carry, covered or not;
    `without`: who of them is covered by nobody now or on a later day of the absence, which are all days ahead on which
    somebody of theirs is covered."""

    staff_id: UUID | None
    name: str
    covers: tuple[Standing, ...]
    carried: int = 0
    without: tuple[Without, ...] = ()

    @property
    def without_words(self) -> str:
        """'6 of their 12 people are covered by nobody'; nothing where everybody is covered on all of these days."""
        n = len(self.without)
        words = ngettext(
            "{n} of their {all} people is covered by nobody", "{n} of their {all} people are covered by nobody", n
        )
        return words.format(n=n, all=self.carried) if n else ""

    @property
    def without_lines(self) -> list[str]:
        """'27 Nov 2026: Rhys Orlfold': on which of these days nobody covers whom, soonest first."""
        by: dict[Span, list[str]] = defaultdict(list)
        for one in self.without:
            for span in one.spans:
                by[span].append(one.name)
        return [f"{span.words}: {few(by[span])}" for span in sorted(by)]

    @property
    def meant(self) -> Span | None:
        """The days that are arranged next: the first on which nobody covers somebody, of several from then on those of
        most people; else those of the cover that ends last, if there is one."""
        many = Counter(span for one in self.without for span in one.spans)
        if many:
            first = min(span.start for span in many)
            return max((span for span in many if span.start == first), key=lambda span: (many[span], span.end))
        last = self._ends_last
        return last.span if last is not None else None

    def days_meant(self, at: datetime) -> dict[str, object]:
        """The same as the fields of a form, with the reason that was given: a leave is often shared out among several
        who stand in."""
        days, last = self.meant, self._ends_last
        found: dict[str, object] = {"reason": last.reason} if last is not None else {}
        if days is not None:
            zone = self.covers[0].turn.zone
            found |= {"first_day": max(days.start, wall(at, zone)).date(), "last_day": days.last_day}
        return found

    @property
    def _ends_last(self) -> Turn | None:
        """The cover that ends last, if one has an end."""
        ends = [((one.turn.end, one.turn.start), one.turn) for one in self.covers if one.turn.end is not None]
        return max(ends, key=lambda each: each[0])[1] if ends else None

    @property
    def lines(self) -> list[Line]:
        """'Lucie Amberwick covers 7 people, 30 Nov 2026 – 4 Dec 2026': one line a colleague and span of days."""
        by: dict[tuple[str, str], list[Standing]] = defaultdict(list)
        for one in self.covers:
            by[one.turn.staff, one.turn.days].append(one)
        return [_line(staff, days, covers) for (staff, days), covers in by.items()]


def _line(staff: str, days: str, covers: Sequence[Standing]) -> Line:
    words = ngettext("{staff} covers {n} person, {days}", "{staff} covers {n} people, {days}", len(covers))
    lacks = [(one.person, one.lacks) for one in covers if one.lacks]
    told = may_not_teach(lacks, len(covers)) if lacks else ""
    return Line(words.format(staff=staff, n=len(covers), days=days), told)


def everybody_away(actor: Staff, *, at: datetime, staff_id: UUID | None = None) -> list[Away]:
    """The covers in force or to come, by whom they are for; of one therapist where one is named."""
    access.permit(actor, Action.ARRANGE_COVER, at)
    found: dict[tuple[str, UUID | None], list[Standing]] = defaultdict(list)
    for one in covers_ahead(actor, at=at):
        if staff_id in (None, one.away_id):
            found[one.away, one.away_id].append(one)
    keys = [key for _name, key in found if key is not None]
    carried, ended = _carried(actor, keys, at=at), _ended_today(keys, at=at)
    return [
        Away(key, name, tuple(covers), len(carried[key]), _without(covers, carried[key], key in ended, at))
        for (name, key), covers in sorted(found.items(), key=lambda each: each[0][0])
    ]


def _without(
    covers: Sequence[Standing], carried: Sequence[Episode], ended_today: bool, at: datetime
) -> tuple[Without, ...]:
    """Whom of them nobody covers on some days of the absence that these covers make."""
    turns: dict[UUID, list[Span]] = defaultdict(list)
    for one in covers:
        turns[one.episode_id].append(one.turn.span)
    found = []
    for episode in carried:
        now = wall(at, episode.site.time_zone)
        absence = joined((span for each in turns.values() for span in each), at=now)
        if ended_today:
            absence = from_today(absence, at=now)
        if left := gaps(absence, joined(turns.get(episode.pk, ()), at=now)):
            found.append(Without(episode.person.full_name, left))
    return tuple(found)


def _carried(actor: Staff, staff_ids: Sequence[UUID], *, at: datetime) -> dict[UUID | None, list[Episode]]:
    """Whom each of them carries now, by name, as far as the actor may arrange cover for them."""
    rows = Assignment.objects.filter(staff_id__in=staff_ids, period__contains=at, episode__closed_at__isnull=True)
    found: dict[UUID | None, list[Episode]] = defaultdict(list)
    mine = access.scoped(actor, Action.ARRANGE_COVER, rows, at=at).select_related("episode__person", "episode__site")
    for row in mine.order_by("episode__person__family_name", "episode_id"):
        found[row.staff_id].append(row.episode)
    return found


def _ended_today(staff_ids: Sequence[UUID], *, at: datetime) -> set[UUID]:
    """Of whom among them a cover ended within today. One that was cut as the person went to them from another therapist
    is none of theirs."""
    carrier = Assignment.objects.filter(
        episode=OuterRef("episode"), period__contains=at, period__startswith__lt=OuterRef("period__endswith")
    )
    rows = Cover.objects.filter(period__isempty=False, period__endswith__lte=at, period__endswith__gt=at - LONGEST_DAY)
    theirs = rows.annotate(away_id=Subquery(carrier.values("staff_id")[:1])).filter(away_id__in=staff_ids)
    return {
        away_id
        for away_id, period, zone in theirs.values_list("away_id", "period", "episode__site__time_zone")
        if clock.day_starts(clock.local_day(at, zone), zone) < period.upper
    }
