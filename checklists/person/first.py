"""What must be checked first, as a line to be read before the session begins.

The protocol says of each rule what to do once it is broken ('stop, sit the person down, …'). Before anybody stands, the
same rule is a thing to check: said here for the rules of the default protocol, by the protocol itself for all others.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

from django.utils.translation import gettext as _
from django.utils.translation import gettext_noop

from caseload.words import listed
from checklists.words import Spoken

BEFORE = {
    "start_check": "Start check: skin, fit, footwear, knee mode",
    "lock_verified": "The lock is set and not proven: straight, caught, loaded with a hand on a rail",
    "walking_mode_proven": "Walking mode: set it, and prove with a hand on a rail that the knee bends",
    "no_weight_in_free_swing": "Free swing is on: seated only, until the knee is set to walking and proven",
    "free_swing_proven_off": "Free swing: prove under load that it is off, with a hand on a rail",
    "yield_proven_after_change": "After the change: “Full weight, knee bending” in the bars, before slope or stair",
    "failed_check_cleared": "The knee is new or its check failed: prove walking mode or the lock before any weight",
}
# The same in so few words that they stand in a "not before …".
AFTER = Spoken(
    {
        "start_check": gettext_noop("the start check"),
        "lock_verified": gettext_noop("the lock is proven"),
        "walking_mode_proven": gettext_noop("walking mode is proven"),
        "no_weight_in_free_swing": gettext_noop("free swing is proven off"),
        "free_swing_proven_off": gettext_noop("free swing is proven off"),
        "yield_proven_after_change": gettext_noop("the check in the bars"),
        "failed_check_cleared": gettext_noop("walking mode or the lock is proven"),
        "gap": gettext_noop("an attempt in the bars"),
    }
)


def first_lines(checks: Iterable[Mapping[str, Any]]) -> list[str]:
    """The lines for what a board row says must be checked first, in its order, each once."""
    return list(dict.fromkeys(BEFORE.get(one["key"], one["sentence"]) for one in checks))


def after(rules: Iterable[str]) -> str:
    """'the start check and the check in the bars'; empty where nothing comes before."""
    return listed(list(dict.fromkeys(AFTER[key] if key in AFTER else _("a check") for key in rules)))
