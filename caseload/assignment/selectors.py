"""Who carries an episode and who stands in, now, before and to come."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from uuid import UUID

from caseload.assignment.models import Assignment, Cover, ahead
from caseload.load.carried import carriers
from caseload.load.selectors import loads
from clinic import access
from clinic.access import Action
from clinic.staff.models import Staff


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


def hands(actor: Staff, episode_id: UUID, *, at: datetime) -> Hands:
    """In whose hands an episode is and was. Two statements."""
    wanted = {"episode_id": episode_id, "period__isempty": False}
    carried = Assignment.objects.filter(**wanted).select_related("staff").order_by("-period")
    covered = Cover.objects.filter(**wanted).select_related("staff").order_by("-period")
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
    )


def cover_of(actor: Staff, episode_id: UUID, cover_id: UUID, *, at: datetime) -> Turn:
    """One cover of an episode. NotFound where it is not the actor's to see."""
    rows = Cover.objects.filter(episode_id=episode_id).select_related("staff")
    return _turn(access.get(actor, Action.SEE_PERSON, rows, at=at, pk=cover_id), at)


@dataclass(frozen=True, slots=True)
class Standing:
    """One cover that is in force or to come, and whom it is about."""

    episode_id: UUID
    person: str
    turn: Turn


def covers_ahead(actor: Staff, *, at: datetime, episode_id: UUID | None = None) -> list[Standing]:
    """Every cover that has not ended yet, soonest first; of one episode where one is named."""
    rows = Cover.objects.filter(ahead(at)).order_by("period", "pk")
    if episode_id is not None:
        rows = rows.filter(episode_id=episode_id)
    seen = access.scoped(actor, Action.SEE_PERSON, rows, at=at).select_related("staff", "episode__person")
    return [Standing(row.episode_id, row.episode.person.full_name, _turn(row, at)) for row in seen]


def beside_cover(actor: Staff, *, at: datetime, episode_id: UUID | None = None) -> dict[str, object]:
    """What somebody must see who arranges cover: who has room, the freest first, and what is covered already."""
    room = sorted(loads(actor, at=at), key=lambda load: load.minutes + load.covered - load.capacity)
    return {"loads": room, "covers": covers_ahead(actor, at=at, episode_id=episode_id)}


def colleagues(*, at: datetime) -> list[tuple[UUID, str]]:
    """Everybody who may carry or cover an episode today, as (id, 'name, site')."""
    return [(row.pk, f"{row.name}, {row.site.name}") for row in carriers(at)]
