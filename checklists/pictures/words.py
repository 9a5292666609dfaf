"""The words in and beside the pictures, in the reader's language. Every drawing takes a `Words`."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from django.utils.translation import gettext_noop as _

from checklists.words import Spoken, SpokenPairs, pgettext_noop

STATUS = Spoken(
    {
        "signed_off": pgettext_noop("skill", "signed off"),
        "ready": pgettext_noop("skill", "ready to sign"),
        "training": pgettext_noop("skill", "training"),
        "open": pgettext_noop("skill", "open"),
        "blocked": pgettext_noop("skill", "blocked"),
        "suspended": pgettext_noop("skill", "suspended"),
        "lapsed": pgettext_noop("skill", "lapsed"),
        "not_applicable": pgettext_noop("skill", "does not apply"),
    },
    "skill",
)
# Support, most to least, with both_rails and one_rail where the semantics put them: the heads of narrow columns …
HEADS = Spoken(
    {
        "bars_both": pgettext_noop("column", "both bars"),
        "bars_one": pgettext_noop("column", "one bar"),
        "both_rails": pgettext_noop("column", "both rails"),
        "one_rail": pgettext_noop("column", "one rail"),
        "contralateral_rail": pgettext_noop("column", "contra rail"),
        "ipsilateral_rail": pgettext_noop("column", "ipsi rail"),
        "stick": pgettext_noop("column", "stick"),
        "none": pgettext_noop("column", "none"),
    },
    "column",
)
# … and the words in a sentence.
RUNGS = Spoken(
    {
        "bars_both": _("both hands on the bars"),
        "bars_one": _("one hand on the bars"),
        "both_rails": _("both rails"),
        "one_rail": _("one rail"),
        "contralateral_rail": _("contralateral rail"),
        "ipsilateral_rail": _("ipsilateral rail"),
        "stick": _("stick"),
        "none": _("no support"),
    }
)
SUPPORT = SpokenPairs(HEADS, RUNGS)
HELP = Spoken(
    {
        "hands_on": pgettext_noop("help", "hands on"),
        "stand_by": pgettext_noop("help", "stand by"),
        "watching": pgettext_noop("help", "watching"),
        "alone": pgettext_noop("help", "alone"),
    },
    "help",
)
RESULT = Spoken(
    {
        "safe": pgettext_noop("attempt", "safe"),
        "unsafe": pgettext_noop("attempt", "unsafe"),
        "stopped": pgettext_noop("attempt", "stopped"),
    },
    "attempt",
)
MODE = Spoken(
    {
        "walking": pgettext_noop("knee", "walking"),
        "locked": pgettext_noop("knee", "locked"),
        "free_swing": pgettext_noop("knee", "free swing"),
        "unknown": pgettext_noop("knee", "mode not known"),
    },
    "knee",
)
PROOF = Spoken(
    {
        "proven": pgettext_noop("knee", "proven"),
        "set": pgettext_noop("knee", "only set, not proven"),
        "failed": pgettext_noop("knee", "checked, and not so"),
    },
    "knee",
)
# `of_signed` and `prove_again` are format strings.
DRAWN = Spoken(
    {
        "next": pgettext_noop("drawing", "next"),
        "meanwhile": pgettext_noop("drawing", "meanwhile only in the bars"),
        "not_begun": pgettext_noop("drawing", "not begun"),
        "knee": pgettext_noop("drawing", "Knee"),
        "proven_on": pgettext_noop("drawing", "Proven safe on"),
        "none_proven": pgettext_noop("drawing", "No rung proven yet"),
        "allowed_next": pgettext_noop("drawing", "next allowed"),
        "counted": pgettext_noop("drawing", "{n} skills, the first at the bottom"),
        "of_signed": pgettext_noop("drawing", "{signed} of {n} signed off"),
        "prove_again": pgettext_noop("drawing", "{n} to be proven again"),
    },
    "drawing",
)


@dataclass(frozen=True, slots=True)
class Words:
    """All words of the drawings; by default those of the reader's language, looked up when a drawing is made."""

    status: Mapping[str, str] = field(default_factory=lambda: STATUS)
    support: Mapping[str, tuple[str, str]] = field(default_factory=lambda: SUPPORT)
    mode: Mapping[str, str] = field(default_factory=lambda: MODE)
    proof: Mapping[str, str] = field(default_factory=lambda: PROOF)
    result: Mapping[str, str] = field(default_factory=lambda: RESULT)
    drawn: Mapping[str, str] = field(default_factory=lambda: DRAWN)

    def rung(self, key: str) -> str:
        """A rung as said in a sentence; a rung of the clinic's own by its key."""
        return self.support[key][1] if key in self.support else key.replace("_", " ")

    def head(self, key: str) -> str:
        """A rung as the head of a narrow column."""
        return self.support[key][0] if key in self.support else key.replace("_", " ")


WORDS = Words()


def english_rung(key: str) -> str:
    """A rung in the words of what is signed: the same bytes whoever reads."""
    return RUNGS.english.get(key, key.replace("_", " "))
