"""Whether a safe attempt would count towards the evidence of its skill, asked before it is made (SEMANTICS.md §5)."""

from typing import TYPE_CHECKING, NamedTuple

from .atom import inside
from .facts import SAFE, UNSAFE, AttemptFacts
from .fold import ALLOWED, MET, STAGE, UNCOUNTED

if TYPE_CHECKING:
    from .course import Course
    from .entry import Entry


class Counted(NamedTuple):
    """Whether a planned attempt would count, and what it has more of, or lacks, than the stage asks for.

    `anew`: it would begin the row again (steps 1 and 3). `support`, `help`: what the stage asks for, where the attempt
    has more; `measures`: those that it names and that the attempt does not have.
    """

    counts: bool
    anew: bool
    support: str | None
    help: str | None
    measures: tuple[str, ...]


def counted(course: "Course", entry: "Entry", facts: AttemptFacts) -> Counted | None:
    """How a planned attempt stands to the evidence; None where nothing is counted: met, signed off, not applicable."""
    fold = course.fold
    skill, state = fold.plan.skills[facts.skill], fold.skills[facts.skill]
    gap = course.resets_at(entry)  # it comes first, and the evidence begins with this attempt
    if fold.status(facts.skill, entry.at_us) in UNCOUNTED:
        return None
    number, allowed = (0, 0) if gap else (state[STAGE], state[ALLOWED])
    stage, asks = skill.stages[number], skill.skill.criterion(fold.plan.both).stages[number]
    taken = entry.get("measures")
    lacking = tuple(name for name, _ in facts.measures if name not in taken)
    fits = all(inside(taken[name], low, high) for name, (low, high) in facts.measures if name in taken)
    reached = facts.result == SAFE and facts.stage_ok[number] and 0 <= facts.rung <= allowed and not lacking
    anew = facts.result == UNSAFE or facts.barred or (reached and not fits)
    if state[MET] and not gap and not anew:
        return None
    return Counted(
        reached and not anew,
        anew,
        asks.support if facts.rung < stage.rung else None,
        asks.help if fold.plan.protocol.help.index(entry.get("help")) < stage.help else None,
        lacking,
    )
