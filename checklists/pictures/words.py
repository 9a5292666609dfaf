"""The words in and beside the pictures. Every drawing takes a `Words`: a translation is one more object."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

STATUS = {
    "signed_off": "signed off",
    "ready": "ready to sign",
    "training": "training",
    "open": "open",
    "blocked": "blocked",
    "suspended": "suspended",
    "lapsed": "lapsed",
    "not_applicable": "does not apply",
}
# Support, most to least, with both_rails and one_rail where the semantics put them: (column head, words in a sentence).
SUPPORT = {
    "bars_both": ("both bars", "both hands on the bars"),
    "bars_one": ("one bar", "one hand on the bars"),
    "both_rails": ("both rails", "both rails"),
    "one_rail": ("one rail", "one rail"),
    "contralateral_rail": ("contra rail", "contralateral rail"),
    "ipsilateral_rail": ("ipsi rail", "ipsilateral rail"),
    "stick": ("stick", "stick"),
    "none": ("none", "no support"),
}
HELP = {"hands_on": "hands on", "stand_by": "stand by", "watching": "watching", "alone": "alone"}
RESULT = {"safe": "safe", "unsafe": "unsafe", "stopped": "stopped"}
MODE = {"walking": "walking", "locked": "locked", "free_swing": "free swing", "unknown": "mode not known"}
PROOF = {"proven": "proven", "set": "only set, not proven", "failed": "checked, and not so"}


@dataclass(frozen=True, slots=True)
class Words:
    """All words of the drawings. `prove_again` and `of_signed` are format strings."""

    status: Mapping[str, str] = field(default_factory=lambda: STATUS)
    support: Mapping[str, tuple[str, str]] = field(default_factory=lambda: SUPPORT)
    mode: Mapping[str, str] = field(default_factory=lambda: MODE)
    proof: Mapping[str, str] = field(default_factory=lambda: PROOF)
    result: Mapping[str, str] = field(default_factory=lambda: RESULT)
    next: str = "next"
    knee: str = "Knee"
    proven_on: str = "Proven safe on"
    none_proven: str = "No rung proven yet"
    allowed_next: str = "next allowed"
    counted: str = "{n} skills, the first at the bottom"
    of_signed: str = "{signed} of {n} signed off"
    prove_again: str = "{n} to be proven again"

    def rung(self, key: str) -> str:
        """A rung as said in a sentence; a rung of the clinic's own by its key."""
        return self.support[key][1] if key in self.support else key.replace("_", " ")

    def head(self, key: str) -> str:
        """A rung as the head of a narrow column."""
        return self.support[key][0] if key in self.support else key.replace("_", " ")


ENGLISH = Words()
