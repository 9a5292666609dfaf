"""What an assistant records and what waits for a therapist: the one home of that."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from typing import Any
from zoneinfo import ZoneInfo

from django.utils.translation import gettext as _

from caseload.assignment.selectors import Hands
from checklists.domain import Episode as Fold
from checklists.person.heads import Standing, fold_of
from checklists.record.models import Head
from clinic.staff.models import Staff

HELPER = "assistant"  # the one role that records attempts and may not lead every one of them


def whose(theirs: Hands) -> str:
    """Who leads what an assistant may not: whoever stands in now, else whoever carries the episode."""
    return theirs.leading.staff if theirs.leading else _("a therapist")


def helping(actor: Staff, name: str, *, at: datetime) -> str:
    """What is theirs to record and what waits for `name`; nothing for whoever records under another role. It says what
    the core's `closed_to` does by the clinic's protocol: a skill opens with the first attempt that no assistant made,
    and no status shuts it."""
    if actor.stamped_role(at.date()) != HELPER:
        return ""
    return _(
        "You record the checks, and each skill that a therapist has led before, also where it must be proven again or"
        " checked in the bars. A skill that none has led yet, and signing off, wait for {name}."
    ).format(name=name)


def is_open(fold: Fold, step: Mapping[str, Any], role: str, local: datetime) -> bool:
    """Whether a role may take a step of a board row as whoever leads would: no rule broken but what comes first in any
    case."""
    planned = {key: step[key] for key in ("skill", "support", "help")}
    broken = {one.rule for one in fold.advise(planned, at=local, role=role).breaks}
    return broken <= {one["rule"] for one in step["first"]}


def closed(actor: Staff, standing: Standing, *, at: datetime) -> frozenset[str]:
    """The skills that are a therapist's to lead first, and not the actor's. No statement."""
    head = standing.head
    if head is None or actor.stamped_role(at.date()) != HELPER:
        return frozenset()
    return frozenset(fold_of(head).closed_to(HELPER, _local(head, at)))


def next_waits(actor: Staff, standing: Standing, *, at: datetime) -> bool:
    """Whether what comes next is a therapist's to lead, and not the actor's. No statement."""
    step, head = next(iter(standing.board.get("next", ())), None), standing.head
    if step is None or head is None or actor.stamped_role(at.date()) != HELPER:
        return False
    return not is_open(fold_of(head), step, HELPER, _local(head, at))


def _local(head: Head, at: datetime) -> datetime:
    return at.astimezone(ZoneInfo(head.episode.site.time_zone))
