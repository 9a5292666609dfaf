"""How something came to be recorded: by whom, when, through which door, and what that door may bring (SEMANTICS.md
§1)."""

from __future__ import annotations

from collections.abc import Callable, Collection, Mapping
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from typing import Any
from uuid import UUID

from checklists.domain import CHOICES, KINDS
from checklists.judged.claims import Claim
from clinic.access import Action
from clinic.audit.models import Origin
from clinic.staff.models import Staff

MOST_AT_ONCE = 1_000
AT_ONCE = timedelta(minutes=5)  # as far as a clock may be out; until then a fact is not late
LATEST = timedelta(days=7)  # an older fact waits for the lead to release it
SIGNING = frozenset({"sign_off", "sign_off_withdrawn"})
# What is never struck out from a page: it is withdrawn, opened again or answered instead.
STAYS = SIGNING | {"episode_opened", "episode_closed", "struck_out", "correction_requested", "correction_answered"}

_ACTION = {
    "episode_opened": Action.OPEN_EPISODE,
    "episode_closed": Action.CLOSE_EPISODE,
    "check": Action.RECORD_KNEE,
    "mode_set": Action.RECORD_KNEE,
    "mode_checked": Action.RECORD_KNEE,
    "setting_changed": Action.RECORD_SETTING,
    "review": Action.REVIEW_FALL,
    "sign_off": Action.SIGN_OFF,
    "sign_off_withdrawn": Action.SIGN_OFF,
    "correction_requested": Action.ASK_CORRECTION,
    "correction_answered": Action.ANSWER_CORRECTION,
}


def action_of(entry: Mapping[str, Any]) -> Action:
    """What somebody must be allowed to do to record this. Shoes are changed by whoever is there, the bench too; the
    knee is not."""
    if entry["kind"] == "setting_changed" and entry["setting"] == "footwear":
        return Action.RECORD_KNEE
    return _ACTION.get(entry["kind"], Action.RECORD)


def strikes(may: Callable[[Action], bool]) -> list[str]:
    """What somebody may strike out: kinds, and of the changes of a setting each as `setting_changed:socket`. What has a
    way of its own (STAYS) is none; whoever may strike any may these."""
    kinds = [{"kind": kind} for kind in KINDS if kind not in STAYS and kind != "setting_changed"]
    settings = [{"kind": "setting_changed", "setting": setting} for setting in CHOICES["setting"]]
    every = may(Action.STRIKE_ANY)
    return [":".join(fact.values()) for fact in [*kinds, *settings] if every or may(action_of(fact))]


@dataclass(frozen=True, slots=True)
class Reception:
    """One call, which is one arrival.

    `judged`: what the sender's own core had said, by entry. `imported`: history, taken as it says it was, however
    old, its signatures included. `by_service`: a service that has seen to the permit itself (sign-off, opening, …).
    `released`: a lead has let these facts in, whoever they are by. `settles`: the planned reviews that a review
    settles, where whoever recorded it said so.
    """

    actor: Staff
    at: datetime
    door: Origin
    imported: bool = False
    by_service: bool = False
    released: bool = False
    settles: Collection[UUID] | None = None
    judged: Mapping[str, Claim] = field(default_factory=dict)

    @property
    def as_history(self) -> bool:
        """Whether author and instant are taken as they are given."""
        return self.imported or self.released
