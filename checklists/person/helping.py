"""What an assistant records and what waits for a therapist: the one home of that sentence."""

from __future__ import annotations

from datetime import datetime

from django.utils.translation import gettext as _

from caseload.assignment.selectors import Hands
from clinic.staff.models import Staff

HELPER = "assistant"  # the one role that records attempts and may not lead every one of them


def whose(theirs: Hands) -> str:
    """Who leads what an assistant may not: whoever stands in now, else whoever carries the episode."""
    turn = theirs.standing_in or theirs.carrier
    return turn.staff if turn else _("a therapist")


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
