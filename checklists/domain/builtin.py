"""The built-in rules at the entry that breaks them, judged against the fold just before it (SEMANTICS.md §4).

Rules are numbers here: their places in BUILTIN_RULES.
"""

from typing import TYPE_CHECKING

from .facts import AttemptFacts, Facts
from .fold import ALLOWED, MET, Fold
from .rule import BUILTIN_RULES

if TYPE_CHECKING:
    from .entry import Entry

(
    PREREQUISITE,
    SUPPORT_STEP,
    FALL_REVIEW,
    FALL_UNREVIEWED,
    GAP,
    ALONE,
    FEATURE,
    UNSUPPORTED_SIGN_OFF,
    STRUCK_DANGER,
) = range(len(BUILTIN_RULES))
_NONE: tuple[int, ...] = ()


def judge_attempt(fold: Fold, facts: AttemptFacts, signed: int, off: bool, gap: bool) -> tuple[int, ...]:
    """The rules that an attempt breaks.

    `signed`: what is signed off; `off`: its rung is not allowed; `gap`: it is at one.
    """
    missing = facts.prerequisites & fold.applicable & ~signed and not facts.in_hand
    falls = facts.counts & (fold.contested_falls if facts.in_hand else fold.open_falls) and not facts.seated
    if not (off or gap or missing or falls or facts.alone) and fold.applicable & facts.bit:
        return _NONE
    broken = (
        (PREREQUISITE, missing),
        (SUPPORT_STEP, off),
        (FALL_REVIEW, falls),
        (GAP, gap and not facts.in_bars),
        (ALONE, facts.alone and not (signed & facts.bit and facts.covered)),
        (FEATURE, not fold.applicable & facts.bit),
    )
    return tuple(number for number, is_broken in broken if is_broken)


def foresee_attempt(fold: Fold, facts: AttemptFacts, at: int, day: int) -> tuple[int, ...]:
    """The rules that an attempt at an instant would break, with the fold left as it is."""
    signed = fold.signed_at(at)
    gap = not facts.seated and fold.is_gap(day)
    allowed = 0 if gap and not signed & facts.bit else fold.skills[facts.skill][ALLOWED]
    return judge_attempt(fold, facts, signed, not 0 <= facts.rung <= allowed, gap)


def judge_sign_off(fold: Fold, entry: "Entry", facts: Facts) -> tuple[int, ...]:
    """The rule that a sign-off breaks, with or without a countersignature."""
    return (UNSUPPORTED_SIGN_OFF,) if lacking(fold, facts.skill, entry.at_us, entry.day) else _NONE


def lacking(fold: Fold, number: int, at: int, day: int) -> tuple[str, ...]:
    """What a sign-off of a skill would lack: any of feature, evidence, prerequisite, fall, gap."""
    skill = fold.plan.skills[number]
    lacks = (
        ("feature", not fold.applicable & skill.bit),
        ("evidence", not fold.skills[number][MET]),
        ("prerequisite", fold.missing(skill.depends, at)),
        ("fall", fold.open_falls & skill.counts),
        ("gap", not skill.seated and fold.is_gap(day)),
    )
    return tuple(word for word, is_lacking in lacks if is_lacking)
