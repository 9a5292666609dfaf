"""Whether a safe attempt would count towards the evidence of its skill, asked before it is made (SEMANTICS.md §5)."""

from typing import TYPE_CHECKING, NamedTuple

from .atom import inside
from .facts import SAFE, AttemptFacts
from .fold import ALLOWED, MET, STAGE

if TYPE_CHECKING:
    from .course import Course
    from .entry import Entry


class Counted(NamedTuple):
    """Whether a planned attempt would count, and what it has more of, or lacks, than the stage asks for.

    `support`, `help`: what the stage asks for, where the attempt has more; `measures`: those that it names and that the
    attempt does not have.
    """

    counts: bool
    support: str | None
    help: str | None
    measures: tuple[str, ...]


def counted(course: "Course", entry: "Entry", facts: AttemptFacts) -> Counted | None:
    """How a planned attempt stands to the evidence; None where nothing is counted: met, signed off, not applicable."""
    fold = course.fold
    skill, state = fold.plan.skills[facts.skill], fold.skills[facts.skill]
    anew = course.resets_at(entry)  # the gap comes first, and the evidence begins anew with this attempt
    if fold.status(facts.skill, entry.at_us) in ("not_applicable", "signed_off") or (state[MET] and not anew):
        return None
    number, allowed = (0, 0) if anew else (state[STAGE], state[ALLOWED])
    stage, asks = skill.stages[number], skill.skill.criterion(fold.plan.both).stages[number]
    taken = entry.get("measures")
    support = asks.support if facts.rung < stage.rung else None
    help_ = asks.help if fold.plan.protocol.help.index(entry.get("help")) < stage.help else None
    lacking = tuple(name for name, _ in facts.measures if name not in taken)
    counts = facts.result == SAFE and not facts.barred and facts.stage_ok[number] and 0 <= facts.rung <= allowed
    fits = not lacking and all(inside(taken[name], low, high) for name, (low, high) in facts.measures)
    return Counted(bool(counts and fits), support, help_, lacking)
