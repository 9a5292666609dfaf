"""The page of what was judged differently, for a lead."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from checklists.judged.models import Difference, Outcome, Tally
from clinic import access
from clinic.access import Action
from clinic.staff.models import Staff

MOST = 50


@dataclass(frozen=True, slots=True)
class DifferencesPage:
    """The newest cases, and how many entries were looked at again, by outcome."""

    rows: list[Difference]
    same: int
    other_record: int
    different: int


def differed(actor: Staff, *, at: datetime) -> int | None:
    """How many cases there are; nothing for whoever may not see them."""
    if access.reach(actor, Action.SEE_DIFFERENCES, at) is None:
        return None
    return access.scoped(actor, Action.SEE_DIFFERENCES, Difference.objects.all(), at=at).count()


def differences_page(actor: Staff, *, at: datetime) -> DifferencesPage:
    """Cases newest first; Denied to whoever may not see them."""
    access.permit(actor, Action.SEE_DIFFERENCES, at)
    rows = access.scoped(actor, Action.SEE_DIFFERENCES, Difference.objects.all(), at=at)
    found = rows.select_related("episode", "protocol", "sender").order_by("-found_at", "-number")
    many = dict.fromkeys(Outcome, 0)
    for outcome, count in Tally.objects.values_list("outcome", "many"):
        many[Outcome(outcome)] += count
    return DifferencesPage(list(found[:MOST]), many[Outcome.SAME], many[Outcome.OTHER_RECORD], many[Outcome.DIFFERENT])
