"""The rules of a document, and the descriptions of the built-in ones (SEMANTICS.md §2, §3 and §4)."""

from dataclasses import dataclass
from typing import NamedTuple

from .document import keyed, texts
from .formula import Formula, read_formula, read_within
from .kinds import SEVERITIES
from .places import Spot
from .vocabulary import Vocabulary

COMMON_PRACTICE = "common practice, no source"


@dataclass(frozen=True, slots=True)
class Rule:
    """A rule of the document: `require` at once, or `expect` within so many microseconds (a deadline)."""

    key: str
    sentence: str
    severity: str
    do_now: str
    source: str | None
    when: Formula
    require: Formula | None
    expect: Formula | None
    within: int | None

    @property
    def is_deadline(self) -> bool:
        """Whether the danger is an absence: broken by what does not come in time."""
        return self.expect is not None


class BuiltinRule(NamedTuple):
    """A rule that every protocol has; `do_now` is what to do once it is broken, `do_first` before trying."""

    key: str
    severity: str
    sentence: str
    do_now: str
    do_first: str
    source: str = COMMON_PRACTICE


BUILTIN_RULES: dict[str, BuiltinRule] = {
    rule.key: rule
    for rule in (
        BuiltinRule(
            "prerequisite", "major",
            "Outside the bars or with nobody at hand, a skill waits until what it builds on is signed off and current.",
            "Stop and sit the person down. Go back to the bars with somebody at hand, or prove first what it needs.",
            "Sign the prerequisites off first, or try it in the bars with somebody at hand.",
        ),
        BuiltinRule(
            "support_step", "major",
            "Support comes off one step at a time, and only after a safe attempt with the next firmer support.",
            "Stop and sit the person down. Go back to the support that was last proven safe, then on one by one.",
            "Make a safe attempt with the next firmer support first.",
        ),
        BuiltinRule(
            "fall_review", "critical",
            "After a fall, the skill and all that builds on it wait until a review has cleared the fall.",
            "Stop and sit the person down. Have the fall reviewed before this, or what builds on it, is tried again.",
            "Have the fall reviewed and cleared first; until it is looked at, only in the bars with somebody at hand.",
        ),
        BuiltinRule(
            "fall_unreviewed", "critical",
            "Every fall is looked at within the time that the protocol gives.",
            "Look at the fall now and record the review; the clinic lead is to know that it is late.",
            "Review the fall.",
        ),
        BuiltinRule(
            "gap", "major",
            "After a long time without an attempt, the person begins again in the bars.",
            "Stop and sit the person down. Begin again in the bars, and watch what has been lost.",
            "Make the first attempt after the break in the bars.",
        ),
        BuiltinRule(
            "alone", "critical",
            "Nothing is tried alone that is not signed off for that support.",
            "Stop, go to the person and sit them down. Nothing alone until it is signed off for this support.",
            "Stay with the person: watch, stand by or hold until the skill is signed off for this support.",
        ),
        BuiltinRule(
            "feature", "critical",
            "A skill that needs a feature is tried only on a knee that has it.",
            "Stop and sit the person down. Check with the prosthetist which knee is fitted and what it can do.",
            "Have the prosthetist check the knee: as recorded it lacks a feature that this skill needs.",
        ),
        BuiltinRule(
            "unsupported_sign_off", "major",
            "A skill is signed off only when it is proven, what it builds on is current, and no fall or gap is open.",
            "Look at the sign-off again with the clinic lead, and withdraw it unless the evidence holds.",
            "Complete the evidence first, or have another clinic lead countersign.",
        ),
        BuiltinRule(
            "struck_danger", "major",
            "Whoever strikes out the record of a danger is asked why.",
            "Read the struck entry and the reason, and ask who struck it out.",
            "Let the clinic lead look at the entry before it is struck out.",
        ),
    )
}  # fmt: skip  # a table, read by row
"""In the order of SEMANTICS.md §4, in which reports list them after the document's rules."""


def read_rules(spot: Spot | None, words: Vocabulary) -> dict[str, Rule]:
    """The rules of a document; none may take the key of a built-in rule."""
    return keyed(spot, lambda item: _rule(item, words))


def _rule(spot: Spot, words: Vocabulary) -> Rule:
    deadline = isinstance(spot.value, dict) and ("expect" in spot.value or "within" in spot.value)
    required = ("key", "sentence", "severity", "do_now", "when", *(("expect", "within") if deadline else ("require",)))
    parts = spot.fields(required, ("source", "note"))
    texts(parts)
    if parts["key"].text() in BUILTIN_RULES:
        parts["key"].refuse("is the key of a built-in rule")
    return Rule(
        key=parts["key"].value,
        sentence=parts["sentence"].text(),
        severity=parts["severity"].choice(SEVERITIES, "severity"),
        do_now=parts["do_now"].text(),
        source=parts["source"].value if "source" in parts else None,
        when=read_formula(parts["when"], words),
        require=None if deadline else read_formula(parts["require"], words),
        expect=read_formula(parts["expect"], words) if deadline else None,
        within=read_within(parts["within"]) if deadline else None,
    )
