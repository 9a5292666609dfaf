"""The Caseload page: who waits, who carries what, who may teach which knee, what is overdue."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from django.utils.translation import gettext as _
from django.utils.translation import pgettext

from caseload.episode.models import Episode
from caseload.load.candidates import may_teach
from caseload.load.selectors import SHORT, Load, loads
from caseload.referral.selectors import Waiting, waiting_list
from checklists.adoption.selectors import is_adopted
from checklists.lead.overdue import Late, overdue
from checklists.today.plates import Plate, urgent
from clinic.staff.models import Staff
from clinic.watch.selectors import Ages, backups

FEW = 3  # so many names stand in a row; more are counted


@dataclass(frozen=True, slots=True)
class InLine:
    """Somebody who waits, with what their knee needs and who may teach it."""

    row: Waiting
    needs: str
    teachers: str


@dataclass(frozen=True, slots=True)
class CaseloadPage:
    """Everything on the page. `widest`: minutes that every bar's scale must hold, so that bars can be compared."""

    at: datetime
    urgent: Sequence[Plate]
    waiting: Sequence[InLine]
    over_limit: int
    loads: Sequence[Load]
    widest: int
    in_care: int
    nobody: Sequence[tuple[object, str]]
    overdue: Sequence[Late]
    backups: Ages
    adopted: bool


def caseload_page(actor: Staff, *, at: datetime) -> CaseloadPage:
    """The lead's page in a fixed number of statements, however large the clinic."""
    every = loads(actor, at=at)
    line = [_in_line(row, every, at) for row in waiting_list(actor, at=at)]
    open_now = Episode.objects.filter(closed_at__isnull=True)
    nobody = open_now.exclude(assignments__period__contains=at).select_related("person").order_by("created_at")
    return CaseloadPage(
        at=at,
        urgent=urgent(actor, at=at),
        waiting=line,
        over_limit=sum(1 for one in line if one.row.wait.over),
        loads=every,
        widest=max((max(load.with_cover, load.capacity) for load in every), default=60),
        in_care=open_now.count(),
        nobody=[(episode.pk, episode.person.full_name) for episode in nobody],
        overdue=overdue(actor, at=at),
        backups=backups(),
        adopted=is_adopted(at),
    )


def _in_line(row: Waiting, every: Sequence[Load], at: datetime) -> InLine:
    able = may_teach(every, row.features, at=at)
    some_not = any(load.away_at(at) or not load.checked for load in every)
    teachers = _names(able, 0 if some_not else len(every))
    if row.features is None:
        teachers = teachers or _("cannot be said yet")
    return InLine(row, _needs(row.features), teachers)


def _needs(knee: Sequence[str] | None) -> str:
    if knee is None:
        return _("knee not known")
    needs = [str(words) for feature, words in SHORT.items() if feature in knee]
    return ", ".join(needs) or pgettext("needs of a knee", "none")


def _names(able: Sequence[str], everybody: int) -> str:
    """`everybody`: how many there are where all of them are here and may sign, else 0."""
    if not able:
        return ""
    if len(able) == everybody and everybody > 1:
        return _("any of {n}").format(n=everybody)
    few = ", ".join(able[:FEW])
    more = len(able) - FEW
    return _("{names} and {n} more").format(names=few, n=more) if more > 0 else few
