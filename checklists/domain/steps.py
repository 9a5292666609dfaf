"""What each kind of entry does to the fold, and which built-in rules it breaks (SEMANTICS.md §4 and §5).

Each step returns the numbers of the built-in rules that the entry breaks, judged just before it.
"""

from typing import TYPE_CHECKING, Any

from .atom import inside
from .builtin import judge_attempt, judge_sign_off
from .facts import SAFE, STOPPED, UNSAFE, Act, AttemptFacts, Facts
from .fold import (
    ALLOWED,
    CLEARED,
    DAYS,
    FELL,
    MET,
    NOT_CLEARED,
    RECENT,
    RUN,
    RUNGS,
    SIGNED,
    STAGE,
    SUSPENDED,
    TRIED,
    UNCOUNTED,
    UNSEEN,
    Fold,
    begin_evidence,
)
from .plan import features_mask

if TYPE_CHECKING:
    from .entry import Entry

Broken = tuple[int, ...]
_NONE: Broken = ()


def attempt(fold: Fold, entry: "Entry", facts: AttemptFacts) -> Broken:
    """An attempt: a gap comes just before it; then it is judged; then it counts."""
    if entry.at_us >= fold.next_lapse:
        fold.lapse(entry.at_us)
    signed, gap = fold.signed & fold.applicable, False
    if not facts.seated:
        gap = fold.is_gap(entry.day)
        fold.last_try = entry.day
        if gap:
            fold.fall_back(fold.plan.everything & ~signed & ~fold.plan.seated, entry.at, "gap")
    state = fold.skills[facts.skill]
    off = facts.rung < 0 or facts.rung > state[ALLOWED]
    broken = judge_attempt(fold, facts, signed, off, gap)
    state[TRIED] = 1
    counts = _count(state, entry, facts, off)
    if facts.result == SAFE:
        if not counts and fold.status(facts.skill, entry.at_us, signed) not in UNCOUNTED:
            fold.leave_uncounted(entry.id, entry.day)
        if not off and not facts.barred:
            _climb(state, entry, facts)
    elif facts.result == UNSAFE:
        _slip(fold, state, entry, facts)
    if facts.result != STOPPED:
        state[RECENT] = (state[RECENT] << 1 | (facts.result == UNSAFE)) & 7
    return broken


def _count(state: list[Any], entry: "Entry", facts: AttemptFacts, off: bool) -> bool:
    """The evidence: the four steps of SEMANTICS.md §5. Whether it counted, or is met already."""
    if facts.result == UNSAFE or facts.barred:
        _interrupt(state)
        return False
    if facts.result == STOPPED or off or not facts.stage_ok[state[STAGE]]:
        return bool(state[MET])
    if facts.measures:
        taken = entry.get("measures")
        if any(name not in taken for name, _ in facts.measures):
            return bool(state[MET])
        if not all(inside(taken[name], low, high) for name, (low, high) in facts.measures):
            _interrupt(state)
            return False
    if state[MET]:
        return True
    stage = facts.stages[state[STAGE]]
    state[RUN] += 1
    if entry.day not in state[DAYS] and len(state[DAYS]) < stage.days:  # more days than are asked for need no memory
        state[DAYS].append(entry.day)
    if state[RUN] >= stage.in_a_row and len(state[DAYS]) >= stage.days:
        if state[STAGE] + 1 < len(facts.stages):
            state[STAGE] += 1
        else:
            state[MET] = 1
        state[RUN], state[DAYS] = 0, []
    return True


def _interrupt(state: list[Any]) -> None:
    """Run 0 and no days; the stage stays, and evidence that was met begins its last stage anew."""
    state[RUN] = state[MET] = 0
    if state[DAYS]:
        state[DAYS] = []


def _climb(state: list[Any], entry: "Entry", facts: AttemptFacts) -> None:
    """A safe attempt on an allowed rung: the next one is allowed."""
    state[RUNGS][str(facts.rung)] = [entry.at, entry.by]
    if state[ALLOWED] <= facts.rung:
        state[ALLOWED] = facts.rung + 1


def _slip(fold: Fold, state: list[Any], entry: "Entry", facts: AttemptFacts) -> None:
    """An unsafe attempt: a rung back; with another among the three before it, a fall-back event."""
    state[ALLOWED] = min(state[ALLOWED], max(facts.rung - 1, 0))
    if state[RECENT]:
        fold.fall_back(facts.bit, entry.at, "unsafe")


def fall(fold: Fold, entry: "Entry", facts: Facts) -> Broken:
    """A fall: the skill and all that depends on it fall back; of no skill: every one begins on its first rung."""
    fold.falls[entry.id] = [facts.skill, entry.at, UNSEEN]
    fold.count_fall(facts.skill, UNSEEN, 1)
    if facts.skill >= 0:
        fold.fall_back(facts.mask, entry.at, "fall")
    else:
        for state in fold.skills:
            state[ALLOWED] = 0
    return _NONE


def review(fold: Fold, entry: "Entry", facts: Facts) -> Broken:
    """A review says of the falls that it names, and that came before it, whether they are cleared."""
    says = CLEARED if facts.outcome == "cleared" else NOT_CLEARED
    for one in entry.get("of"):
        if one in fold.falls:
            skill, _, seen = fold.falls[one]
            fold.count_fall(skill, seen, -1)
            fold.count_fall(skill, says, 1)
            fold.falls[one][2] = says
    return _NONE


def setting_changed(fold: Fold, entry: "Entry", facts: Facts) -> Broken:
    """A change of setting or component: what depends on it falls back; another knee has other features."""
    fold.fall_back(facts.mask, entry.at, str(entry.shape.fields["setting"]))
    if facts.features is not None:
        for side in (0, 1):
            if facts.knees >> side & 1:
                fold.features[side] = facts.features
        fold.applicable = fold.plan.applicable(fold.features[0] & fold.features[1])
    return _NONE


def sign_off(fold: Fold, entry: "Entry", facts: Facts) -> Broken:
    """A sign-off stands, whatever it breaks; the evidence begins anew."""
    if entry.at_us >= fold.next_lapse:
        fold.lapse(entry.at_us)
    broken = judge_sign_off(fold, entry, facts)
    skill, state = fold.plan.skills[facts.skill], fold.skills[facts.skill]
    begin_evidence(state)
    state[SIGNED], state[SUSPENDED] = [entry.at_us, entry.at, entry.by], 0
    fold.signed |= skill.bit
    if skill.valid is not None:
        fold.next_lapse = min(fold.next_lapse, entry.at_us + skill.valid)
    return broken


def sign_off_withdrawn(fold: Fold, entry: "Entry", facts: Facts) -> Broken:
    """A withdrawal: no sign-off stands, the evidence and the ladder begin anew."""
    state = fold.skills[facts.skill]
    begin_evidence(state)
    state[ALLOWED] = state[SUSPENDED] = 0
    state[SIGNED], state[FELL] = None, [entry.at, "withdrawn"]
    fold.signed &= ~(1 << facts.skill)
    return _NONE


def episode_opened(fold: Fold, entry: "Entry", facts: Facts) -> Broken:
    """The opening that counts; the plan has been chosen by its side already."""
    fields = entry.shape.fields
    fold.opening = [entry.id, entry.at, entry.by, fields["side"]]
    fold.features = [features_mask(fields["features"])] * 2
    fold.applicable = fold.plan.applicable(fold.features[0])
    return _NONE


STEPS: dict[str, Act] = {
    "fall": fall,
    "review": review,
    "setting_changed": setting_changed,
    "sign_off": sign_off,
    "sign_off_withdrawn": sign_off_withdrawn,
    "episode_opened": episode_opened,
}
"""Kind → its step, apart from `attempt`; the other kinds change nothing in the fold."""
