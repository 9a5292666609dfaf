"""The rules of the default protocol that are critical, in few words: for lines that name several people."""

from __future__ import annotations

from checklists.alerts.rules import FALL_UNREVIEWED, REFUSED_DANGER, words_of
from checklists.domain import Protocol
from checklists.words import Spoken, pgettext_noop, said

SHORT = Spoken(
    {
        "lock_verified": pgettext_noop("rule, in short", "lock not verified"),
        "walking_mode_proven": pgettext_noop("rule, in short", "walking mode not proven"),
        "no_weight_in_free_swing": pgettext_noop("rule, in short", "weight on a knee in free swing"),
        "free_swing_proven_off": pgettext_noop("rule, in short", "free swing not proven off"),
        "free_swing_switched_on_safely": pgettext_noop("rule, in short", "free swing switched on outside the bars"),
        "first_stairs_down": pgettext_noop("rule, in short", "first stairs down on the wrong rail"),
        "walking_mode_at_close": pgettext_noop("rule, in short", "closed without walking mode proven"),
        "walking_mode_in_time": pgettext_noop("rule, in short", "walking mode not proven in time"),
        "yield_proven_after_change": pgettext_noop("rule, in short", "yielding not proven after a change"),
        "failed_check_cleared": pgettext_noop("rule, in short", "weight on a knee whose check failed"),
        "fall_review": pgettext_noop("rule, in short", "tried again before the fall was reviewed"),
        FALL_UNREVIEWED: pgettext_noop("rule, in short", "fall not reviewed in time"),
        REFUSED_DANGER: pgettext_noop("rule, in short", "fall or unsafe attempt not taken"),
    },
    "rule, in short",
)


def short_of(protocol: Protocol, rule: str) -> str:
    """A rule in few words; one of a clinic's own in the words of its protocol."""
    return SHORT[rule] if rule in SHORT else said(words_of(protocol, rule).sentence)
