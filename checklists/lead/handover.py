"""The handover sheet: the plan of everybody whom somebody carries, and where their record stands."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from uuid import UUID

from django.utils.translation import gettext as _

from caseload.assignment.selectors import colleagues
from caseload.episode.handover import Handed, handover
from caseload.load.carried import carried
from checklists.person.heads import standings
from checklists.pictures import Tread
from checklists.today.rows import Next, next_of
from checklists.words import said
from clinic import access
from clinic.access import Action
from clinic.staff.models import Staff


@dataclass(frozen=True, slots=True)
class OnSheet:
    """One person: the plan, what is next and why, what must be checked first, and what has fallen back or lapsed."""

    plan: Handed
    treads: Sequence[Tread]
    next: Next | None
    check_first: Sequence[str]
    minutes: int | None  # a week, as load counts them; nothing where the reader may not see who carries them

    @property
    def again(self) -> list[Tread]:
        """Skills that were signed off and must be proven again."""
        return [tread for tread in self.treads if tread.status in ("suspended", "lapsed")]


@dataclass(frozen=True, slots=True)
class Sheet:
    """Whose people these are, and the people whom the reader may see, and may give to somebody else."""

    whose: str
    may_move: bool
    people: Sequence[OnSheet]


def handover_sheet(actor: Staff, staff_id: UUID, *, at: datetime) -> Sheet:
    """Everybody whom somebody carries and the reader may see now. A fixed number of statements."""
    access.permit(actor, Action.SEE_PERSON, at)
    plans = handover(actor, staff_id, at=at)
    standing = standings([plan.episode_id for plan in plans], at=at)
    minutes = {row.episode_id: row.minutes for row in carried(at, zone=actor.site.time_zone)}
    people = []
    for plan in plans:
        found = standing.get(plan.episode_id)
        treads = found.treads(both=plan.side == "both") if found else []
        board = found.board if found else {}
        first = [said(each["sentence"]) for each in board.get("check_first", ())]
        people.append(OnSheet(plan, treads, next_of(board, treads, plan.side), first, minutes.get(plan.episode_id)))
    names = {actor.pk: actor.name, **dict(colleagues(at=at))}
    may_move = access.reach(actor, Action.ASSIGN, at) is not None
    return Sheet(names.get(staff_id, _("A colleague")), may_move, people)
