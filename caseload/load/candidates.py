"""What one more person would mean for each therapist, and who may teach a knee."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime
from uuid import UUID

from django.utils.translation import gettext as _

from caseload.load.carried import weights
from caseload.load.models import Phase
from caseload.load.phase import Minutes, minutes_for
from caseload.load.selectors import Load, loads
from caseload.words import listed, over_words
from clinic.staff.models import Staff


@dataclass(frozen=True, slots=True)
class Offered:
    """A therapist among whom one is chosen: the load as it is, and in minutes as it would be."""

    load: Load
    after: int

    @property
    def away_words(self) -> str:
        """'away 23 Nov 2026 – 5 Dec 2026'; nothing where no leave of theirs is covered."""
        return "; ".join(leave.words for leave in self.load.away)

    @property
    def over(self) -> int:
        """Minutes beyond what they have, were they chosen."""
        return max(0, self.after - self.load.capacity)

    @property
    def over_words(self) -> str:
        """'2.5 h over'."""
        return over_words(self.after, self.load.capacity)


@dataclass(frozen=True, slots=True)
class Candidate(Offered):
    """Who might take a person, and what stands in the way."""

    lacks: tuple[str, ...]
    same_site: bool
    known: bool

    @property
    def good_words(self) -> str:
        """Where nothing does."""
        return _("may teach this knee") if self.known else _("may teach any knee")

    @property
    def words(self) -> str:
        """As a line of a list to choose from: name, and what they lack."""
        return f"{self.load.name} ({self.lacks_words})" if self.lacks else self.load.name

    @property
    def lacks_words(self) -> str:
        """'lacks registration and manual lock'; of a knee that nobody knows yet only that it cannot be said."""
        return lacks_of_one(self.load, self.lacks, known=self.known)


def lacks_of_one(load: Load, lacks: Sequence[str], *, known: bool) -> str:
    """What somebody lacks for one person. Of an unknown knee nobody can say it, unless they may teach nobody at all."""
    if known or not load.registered:
        return _("lacks {list}").format(list=listed(lacks) if known else _("registration"))
    return _("knee not known: whether they may teach it cannot be said")


def candidates(
    all_loads: Sequence[Load],
    *,
    knee: Sequence[str] | None,
    side: str,
    site_id: UUID,
    costs: dict[str, Minutes],
    phase: str = Phase.NEW,
) -> list[Candidate]:
    """Who might take a person: who is fully authorised first, then who may sign, then who has no leave ahead, then the
    same site, then most room."""
    extra = minutes_for(phase, side, costs)
    found = [
        Candidate(
            load=load,
            after=load.with_cover + extra,
            lacks=tuple(load.lacks(knee)),
            same_site=load.site_id == site_id,
            known=knee is not None,
        )
        for load in all_loads
    ]
    return sorted(
        found,
        key=lambda one: (
            *(len(one.lacks), not one.load.checked, bool(one.load.away), not one.same_site),
            *(one.after - one.load.capacity, one.load.name),
        ),
    )


def candidates_for(
    actor: Staff, *, knee: Sequence[str] | None, side: str, site_id: UUID, at: datetime
) -> list[Candidate]:
    """The same, read anew."""
    every = loads(actor, at=at)
    return candidates(every, knee=knee, side=side, site_id=site_id, costs=weights())


def given_to(person: str, found: Iterable[Candidate], staff_id: str | None) -> str:
    """What is said once somebody was given to one of them."""
    staff = next((one.load.name for one in found if str(one.load.staff_id) == staff_id), "")
    return _("{person} is with {staff} now.").format(person=person, staff=staff)


def widest(found: Sequence[Offered]) -> int:
    """The minutes that a scale must hold for the bars of all of them to be compared."""
    return max((max(one.after, one.load.capacity) for one in found), default=60)


def may_teach(all_loads: Sequence[Load], knee: Sequence[str] | None, *, at: datetime) -> list[str]:
    """Who is registered, and authorised today for all that this knee has or, unknown, may have; whoever signs nothing
    yet after them, and last who is away, and until when."""
    able = [(load, load.away_at(at)) for load in all_loads if not load.lacks(knee)]
    here = [load for load, leave in able if leave is None]
    return [
        *(load.name for load in here if load.checked),
        *(_("{name} (identity not checked yet)").format(name=load.name) for load in here if not load.checked),
        *(f"{load.name} ({leave.until_words})" for load, leave in able if leave is not None),
    ]
