"""Who carries an episode and who stands in, now, before and to come."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from datetime import datetime
from uuid import UUID

from django.db.models import OuterRef, Subquery
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from caseload.assignment.gaps import Span, span_of
from caseload.assignment.models import Assignment, Cover, ahead
from caseload.load.carried import carriers
from caseload.load.selectors import lacking_of
from caseload.words import last_words, listed, span_words
from clinic import access
from clinic.access import Action
from clinic.staff.models import Staff
from clinic.staff.selectors import who_may


@dataclass(frozen=True, slots=True)
class Turn:
    """Somebody's turn with an episode, from one instant to another (None: until further notice)."""

    row_id: UUID
    version: int
    staff_id: UUID
    staff: str
    start: datetime
    end: datetime | None
    reason: str
    now: bool
    zone: str

    @property
    def days(self) -> str:
        """'30 Nov 2026 – 4 Dec 2026': the days as they were typed, both included."""
        return span_words(self.start, self.end, self.zone)

    @property
    def last(self) -> str:
        """'4 Dec 2026': until when, that day included."""
        return last_words(self.end, self.zone)

    @property
    def span(self) -> Span:
        """The same by the clocks of the site."""
        return span_of(self.start, self.end, self.zone)

    def over(self, at: datetime) -> bool:
        """Whether it has ended by then."""
        return self.end is not None and self.end <= at


@dataclass(frozen=True, slots=True)
class Hands:
    """In whose hands an episode is: every assignment and cover, newest first."""

    assignments: tuple[Turn, ...]
    covers: tuple[Turn, ...]

    @property
    def carrier(self) -> Turn | None:
        """Who carries it now."""
        return next((turn for turn in self.assignments if turn.now), None)

    @property
    def standing_in(self) -> Turn | None:
        """Who stands in now."""
        return next((turn for turn in self.covers if turn.now), None)

    @property
    def leading(self) -> Turn | None:
        """Whose turn it is: whoever stands in, else whoever carries it."""
        return self.standing_in or self.carrier

    @property
    def led_by(self) -> str:
        """'Lucie Amberwick, for Jonas Wexthorn': who leads, and for whom; nothing where nobody does."""
        if self.standing_in and self.carrier:
            return in_place(self.standing_in.staff, self.carrier.staff)
        return self.leading.staff if self.leading else ""


def in_place(name: str, away: str) -> str:
    """'Lucie Amberwick, for Jonas Wexthorn'."""
    return _("{name}, for {away}").format(name=name, away=away)


def hands(actor: Staff, episode_id: UUID, *, at: datetime) -> Hands:
    """In whose hands an episode is and was. Two statements."""
    wanted = {"episode_id": episode_id, "period__isempty": False}
    carried = Assignment.objects.filter(**wanted).select_related("staff", "episode__site").order_by("-period")
    covered = Cover.objects.filter(**wanted).select_related("staff", "episode__site").order_by("-period")
    return Hands(
        tuple(_turn(row, at) for row in access.scoped(actor, Action.SEE_PERSON, carried, at=at)),
        tuple(_turn(row, at) for row in access.scoped(actor, Action.SEE_PERSON, covered, at=at)),
    )


def _turn(row: Assignment | Cover, at: datetime) -> Turn:
    start, end = row.period.lower, row.period.upper
    return Turn(
        row_id=row.pk,
        version=row.version,
        staff_id=row.staff_id,
        staff=row.staff.name,
        start=start,
        end=end,
        reason=row.reason,
        now=start <= at and (end is None or at < end),
        zone=row.episode.site.time_zone,
    )


def stand_ins(actor: Staff, episode_ids: Collection[UUID], *, at: datetime) -> dict[UUID, tuple[str, UUID | None]]:
    """Who stands in now, by episode: the name, and who carries it meanwhile. One statement."""
    carrier = Assignment.objects.filter(episode=OuterRef("episode"), period__contains=at).values("staff_id")[:1]
    rows = Cover.objects.filter(episode_id__in=episode_ids, period__contains=at)
    seen = access.scoped(actor, Action.SEE_PERSON, rows, at=at).annotate(away_id=Subquery(carrier))
    return {key: (name, away) for key, name, away in seen.values_list("episode_id", "staff__name", "away_id")}


def who_moves(actor: Staff, site_id: UUID, *, at: datetime) -> tuple[str, ...]:
    """Whom to ask to move a person of this site or to arrange cover: those of the site, else of any; nobody for whoever
    may do it themselves. One statement."""
    if access.reach(actor, Action.ASSIGN, at) is not None:
        return ()
    found = list(who_may(Action.ASSIGN, at=at).values_list("name", "site_id"))
    return tuple(name for name, site in found if site == site_id) or tuple(name for name, _site in found)


def cover_of(actor: Staff, episode_id: UUID, cover_id: UUID, *, at: datetime) -> Turn:
    """One cover of an episode. NotFound where it is not the actor's to see."""
    rows = Cover.objects.filter(episode_id=episode_id).select_related("staff", "episode__site")
    return _turn(access.get(actor, Action.SEE_PERSON, rows, at=at, pk=cover_id), at)


@dataclass(frozen=True, slots=True)
class Standing:
    """One cover that is in force or to come, whom it is about, and who carries them."""

    episode_id: UUID
    person: str
    away_id: UUID | None
    away: str
    turn: Turn
    lacks: str = ""  # for want of what whoever stands in may not teach this knee

    @property
    def lacks_words(self) -> str:
        """'may not teach this knee: free swing'; nothing where they may."""
        return _("may not teach this knee: {lacks}").format(lacks=self.lacks) if self.lacks else ""


def covers_ahead(actor: Staff, *, at: datetime, episode_id: UUID | None = None) -> list[Standing]:
    """Every cover that has not ended yet, soonest first; of one episode where one is named."""
    rows = Cover.objects.filter(ahead(at)).order_by("period", "pk")
    if episode_id is not None:
        rows = rows.filter(episode_id=episode_id)
    carrier = Assignment.objects.filter(episode=OuterRef("episode"), period__contains=at)
    seen = access.scoped(actor, Action.SEE_PERSON, rows, at=at).annotate(
        away_id=Subquery(carrier.values("staff_id")[:1]), away=Subquery(carrier.values("staff__name")[:1])
    )
    covers = list(seen.select_related("staff", "episode__person", "episode__site"))
    lacks = lacking_of(covers, at=at)
    return [
        Standing(
            episode_id=row.episode_id,
            person=row.episode.person.full_name,
            away_id=row.away_id,
            away=row.away or "",
            turn=_turn(row, at),
            lacks=listed(lacks.get(row.pk, ())),
        )
        for row in covers
    ]


def covered_words(whom: str, covers: Sequence[Cover]) -> str:
    """What is said once cover is arranged: 'Lucie Amberwick covers 7 people of Runa Achterling, 30 Nov – 4 Dec.'"""
    first = covers[0]
    days = span_words(first.period.lower, first.period.upper, first.episode.site.time_zone)
    words = ngettext("{staff} covers {whom}, {days}.", "{staff} covers {whom}, {n} people, {days}.", len(covers))
    return words.format(staff=first.staff.name, whom=whom, n=len(covers), days=days)


def colleague(staff_id: UUID, *, at: datetime) -> str:
    """The name of one of them; nothing where they are none."""
    return carriers(at).filter(pk=staff_id).values_list("name", flat=True).first() or ""


def colleagues(*, at: datetime) -> list[tuple[UUID, str]]:
    """Everybody who may carry or cover an episode today, as (id, 'name, site')."""
    return [(row.pk, f"{row.name}, {row.site.name}") for row in carriers(at)]
