"""What is safe to try next, what a planned attempt would break, and what must be checked before anything.

Advice never guesses: it asks the very rules that judge the entry once it is recorded, against the state as it stands.
"""

from collections.abc import Iterator
from typing import TYPE_CHECKING, Any, NamedTuple

from . import builtin
from .counted import Counted
from .fold import ALLOWED, CLEARED, MET, NOT_CLEARED, SIGNED, STAGE, TRIED, Fold
from .plan import PlannedSkill
from .reasons import evidence, sign_off_lacks
from .rule import BUILTIN_RULES
from .words import day_of, said

if TYPE_CHECKING:
    from .course import Course
    from .entry import Entry

_BUILTINS = tuple(BUILTIN_RULES.values())


class Broken(NamedTuple):
    """A rule that a planned entry would break, and what to do first."""

    rule: str
    severity: str
    sentence: str
    do_first: str


class Advice(NamedTuple):
    """Whether a planned entry would break no rule, and if not which.

    `counted`: of an attempt, how it would stand to the evidence; None where nothing is counted.
    """

    allowed: bool
    breaks: tuple[Broken, ...]
    counted: Counted | None = None


class Step(NamedTuple):
    """A safe next attempt: a skill on a rung with a help, and why.

    `first`: what must be done before it, rule by rule.
    """

    skill: str
    support: str
    help: str
    why: str
    first: tuple[Broken, ...]


class CheckFirst(NamedTuple):
    """Something to check or do before any attempt; `key` is the rule that asks for it."""

    key: str
    sentence: str


def broken_by(course: "Course", entry: "Entry") -> list[Broken]:
    """What an entry would break if it came next."""
    rules = list(course.protocol.rules.values())
    numbers = sorted(course.foresee(entry))
    found = [Broken(one.key, one.severity, one.sentence, one.do_now) for one in (rules[n] for n in numbers)]
    return found + [
        Broken(one.key, one.severity, one.sentence, _do_first(course, entry, number))
        for number in course.foresee_builtin(entry)
        for one in [_BUILTINS[number]]
    ]


def _do_first(course: "Course", entry: "Entry", number: int) -> str:
    """The built-in rule's advice, with the skill's own names in it."""
    fold, key = course.fold, entry.shape.skill
    if key is None:
        return _BUILTINS[number].do_first
    skill = fold.plan.skills[fold.plan.number[key]]
    if number == builtin.PREREQUISITE:
        missing = [one.skill.title for one in fold.plan.members(fold.missing(skill.depends, entry.at_us))]
        until = " Until then only in the bars with somebody at hand." if skill.bit & fold.plan.in_bars else ""
        return f"Sign off first: {'; '.join(missing)}.{until}"
    if number == builtin.SUPPORT_STEP:
        allowed = 0 if course.resets_at(entry) else fold.skills[skill.number][ALLOWED]
        return f"Make a safe attempt {said(skill.ladder[min(allowed, len(skill.ladder) - 1)])} first."
    if number == builtin.UNSUPPORTED_SIGN_OFF:
        lacks = builtin.lacking(fold, skill.number, entry.at_us, entry.day)
        return " ".join(sign_off_lacks(fold, skill, entry.at_us, lacks))
    if number == builtin.FALL_REVIEW and not skill.bit & fold.plan.in_bars:
        return "Have the fall reviewed and cleared first."
    return _BUILTINS[number].do_first


def next_steps(course: "Course", at: tuple[int, int, str]) -> list[Step]:
    """What is safe to try next, in the document's order, which is the order of climbing."""
    fold = course.fold
    signed = fold.signed_at(at[0])
    begun = sum(
        skill.bit
        for skill, state in zip(fold.plan.skills, fold.skills, strict=True)
        if state[TRIED] and state[SIGNED] is None
    )
    steps = (_next_step(course, skill, at, signed, begun) for skill in fold.plan.skills)
    return [step for step in steps if step is not None]


def _next_step(course: "Course", skill: PlannedSkill, at: tuple[int, int, str], signed: int, begun: int) -> Step | None:
    """The attempt that brings a skill on: no rule of the core broken, and as few of the document's as can be.

    A blocked skill is worth learning in the bars once all that it still waits for has been `begun` (a mask: tried, and
    not signed before). What must be proven again comes first, so a skill that waits for such a one is not yet next.
    """
    fold = course.fold
    status = fold.status(skill.number, at[0], signed)
    if status in ("not_applicable", "signed_off", "ready") or (fold.skills[skill.number][MET] and status != "blocked"):
        return None
    if status == "blocked" and skill.depends & fold.applicable & ~signed & ~begun:
        return None
    best: Step | None = None
    for rung, help_ in _candidates(course, skill):
        entry = course.planned(skill.skill.key, skill.ladder[rung], help_, at)
        if course.foresee_builtin(entry):
            continue
        first = tuple(broken_by(course, entry))
        if best is None or len(first) < len(best.first):
            best = Step(skill.skill.key, skill.ladder[rung], help_, _why(course, skill, rung, at), first)
        if not first:
            break
    return best


def _why(course: "Course", skill: PlannedSkill, rung: int, at: tuple[int, int, str]) -> str:
    """How far the evidence is, after what keeps it from going further: a rung that was not safe yet, or a rule."""
    highest, help_ = _aim(course, skill)
    how_far = evidence(course.fold, skill)
    if rung < highest:  # it was safe there already
        aim = course.planned(skill.skill.key, skill.ladder[highest], help_, at)
        for number in course.foresee_builtin(aim):
            return f"{_do_first(course, aim, number)} {how_far}"
    if rung >= skill.stages[course.fold.skills[skill.number][STAGE]].rung:
        return how_far
    return f"A safe attempt {said(skill.ladder[rung])} comes first. {how_far}"


def _aim(course: "Course", skill: PlannedSkill) -> tuple[int, str]:
    """The rung that the stage asks for, as far as allowed, and the help that it is tried with."""
    state = course.fold.skills[skill.number]
    asked = skill.skill.criterion(course.fold.plan.both).stages[state[STAGE]].help
    help_ = asked if asked is not None else course.protocol.beside
    return min(state[ALLOWED], skill.stages[state[STAGE]].rung), help_


def _candidates(course: "Course", skill: PlannedSkill) -> Iterator[tuple[int, str]]:
    """Rungs from the one that is aimed at back to the first; then the same with somebody at hand, as what is learnt or
    waits in the bars climbs there too."""
    helps = course.protocol.help
    highest, help_ = _aim(course, skill)
    at_hand = helps[min(1, len(helps) - 1)]
    for given in dict.fromkeys((help_, at_hand)):
        for rung in range(highest, -1, -1):
            yield rung, given


def check_first(course: "Course", at: tuple[int, int, str]) -> list[CheckFirst]:
    """What must be checked or done before anything.

    Open falls, a gap, and each rule of the document that even the safest attempt of a skill in reach would break now.
    """
    fold, plan = course.fold, course.fold.plan
    found = [_fall_first(fold, fall) for fall in fold.falls.values() if fall[2] != CLEARED]
    if fold.is_gap(at[1]):
        anew = "What is not signed off, or no longer current, begins anew."
        sentence = f"More than {plan.gap_days} days since the last attempt. {_BUILTINS[builtin.GAP].do_first} {anew}"
        found.append(CheckFirst("gap", sentence))
    broken: set[int] = set()
    seen: set[tuple[object, ...]] = set()
    signed = fold.signed_at(at[0])
    for skill in plan.skills:
        in_reach = fold.skills[skill.number][TRIED] or not skill.depends & fold.applicable & ~signed
        if in_reach and fold.applicable & skill.bit:
            entry = course.planned(skill.skill.key, skill.ladder[0], course.protocol.help[0], at)
            if (view := course.seen_as(entry)) not in seen:
                seen.add(view)
                broken |= course.foresee(entry)
    rules = list(course.protocol.rules.values())
    return found + [CheckFirst(rules[number].key, rules[number].sentence) for number in sorted(broken)]


def _fall_first(fold: Fold, fall: list[Any]) -> CheckFirst:
    """What an open fall holds back, how far and until when: a reader must take it neither for every skill nor for none.

    What is tried in hand waits for no more than that a review has looked at the fall (SEMANTICS.md §4); what has no
    support in the bars is never in hand.
    """
    number, at, seen = fall
    plan = fold.plan
    held = (plan.falls_with[number] if number >= 0 else plan.everything) & fold.applicable & ~plan.seated
    found, until, rest = "has not been reviewed", "Only in the bars with somebody at hand until it is reviewed", ""
    if seen == NOT_CLEARED:
        found, until = "was reviewed and is not cleared", "Not tried until a later review clears it"
    elif not held & plan.in_bars:
        until = "Not tried until it is reviewed"
    elif held & ~plan.in_bars:
        rest = " What is not done in the bars is not tried until then."
    what = "every skill that is not done seated."
    if number >= 0:
        what = f"{plan.skills[number].skill.title} and all that builds on it."
        rest += " Other skills are not held back by it."
    return CheckFirst("fall_review", f"The fall of {day_of(at)} {found}. {until}: {what}{rest}")
