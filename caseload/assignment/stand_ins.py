"""Who might stand in for a colleague: what they may teach, whom of these people they may not, and their load."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime
from uuid import UUID

from django.utils.translation import gettext as _

from caseload.assignment.gaps import Span
from caseload.assignment.models import Assignment
from caseload.assignment.selectors import Standing, Turn
from caseload.episode.models import Episode
from caseload.load.candidates import Offered, lacks_of_one
from caseload.load.carried import carried, total
from caseload.load.selectors import Load, loads, wanting
from caseload.words import listed, may_not_teach
from clinic import access
from clinic.access import Action
from clinic.staff.models import Staff


@dataclass(frozen=True, slots=True)
class StandIn(Offered):
    """Somebody who might stand in for so many `people`; `lacks`: whom of them they may not teach, and for want of
    what."""

    people: int
    lacks: tuple[tuple[str, str], ...]
    same_site: bool
    known: bool

    @property
    def good_words(self) -> str:
        """Where they may teach everybody."""
        if self.people == 1:
            return _("may teach this knee") if self.known else _("may teach any knee")
        return _("may teach all {n}").format(n=self.people)

    @property
    def lacks_words(self) -> str:
        """'may not teach 2 of 7: Ines Vartholm (free swing) and Bertil Quaymor (lock)'; of one person 'lacks lock'."""
        if not self.load.registered:
            return _("no current registration: may teach nobody")
        if self.people == 1:
            return lacks_of_one(self.load, [self.lacks[0][1]], known=self.known)
        return may_not_teach(self.lacks, self.people)

    @property
    def words(self) -> str:
        """As a line of a list to choose from."""
        return f"{self.load.name} ({self.lacks_words})" if self.lacks else self.load.name


@dataclass(frozen=True, slots=True)
class ToCover:
    """One of a colleague's people, with who stands in for them already, now or later."""

    episode_id: UUID
    name: str
    covers: tuple[Turn, ...] = ()

    @property
    def words(self) -> str:
        """'Ines Vartholm', 'Bertil Quaymor (Lucie Amberwick, 30 Nov 2026 – 4 Dec 2026)'."""
        covered = "; ".join(f"{turn.staff}, {turn.days}" for turn in self.covers)
        return f"{self.name} ({covered})" if covered else self.name

    def taken(self, days: Span | None) -> bool:
        """Whether somebody stands in on some of these days already; on any, where none are given."""
        return any(days is None or days.overlaps(turn.span) for turn in self.covers)


def to_cover(people: Iterable[Episode], standing: Iterable[Standing]) -> list[ToCover]:
    """The same people, each with the covers of theirs among these."""
    covers: dict[UUID, list[Turn]] = {}
    for cover in standing:
        covers.setdefault(cover.episode_id, []).append(cover.turn)
    return [ToCover(one.pk, one.person.full_name, tuple(covers.get(one.pk, ()))) for one in people]


def people_of(actor: Staff, away_id: UUID, *, at: datetime) -> list[Episode]:
    """Whom a therapist carries now, as far as the actor may arrange cover for them."""
    mine = Assignment.objects.filter(staff_id=away_id, period__contains=at)
    rows = Episode.objects.filter(closed_at__isnull=True, pk__in=mine.values("episode_id")).select_related("person")
    return list(access.scoped(actor, Action.ARRANGE_COVER, rows, at=at).order_by("person__family_name", "pk"))


def person_of(actor: Staff, episode_id: UUID, *, at: datetime) -> list[Episode]:
    """One person, for whom cover is arranged alone."""
    rows = Episode.objects.select_related("person")
    return [access.get(actor, Action.ARRANGE_COVER, rows, at=at, pk=episode_id)]


def stand_ins(actor: Staff, people: list[Episode], away_id: UUID | None, *, at: datetime) -> list[StandIn]:
    """Everybody else who may carry people: the registered first, of them who may sign, then who has no leave ahead,
    then who may teach most, their own site, most room."""
    keys = {episode.pk for episode in people}
    extra = total(row for row in carried(at, zone=actor.site.time_zone) if row.episode_id in keys)
    sites = {episode.site_id for episode in people}
    every = loads(actor, at=at, apart=keys)
    found = [_stand_in(load, people, extra, sites) for load in every if load.staff_id != away_id]
    return sorted(found, key=_rank)


def _rank(one: StandIn) -> tuple[bool, bool, bool, int, bool, int, str]:
    last = (not one.load.registered, not one.load.checked, bool(one.load.away))
    return *last, len(one.lacks), not one.same_site, one.after - one.load.capacity, one.load.name


def _stand_in(load: Load, people: list[Episode], extra: int, sites: set[UUID]) -> StandIn:
    lacks = [
        (episode.person.full_name, wanting(episode.knee, load.features, registered=load.registered))
        for episode in people
    ]
    return StandIn(
        load=load,
        after=load.with_cover + extra,
        people=len(people),
        lacks=tuple((name, listed(what)) for name, what in lacks if what),
        same_site=load.site_id in sites,
        known=all(episode.knee is not None for episode in people),
    )
