"""What the Floor says, in one place: short enough for a key, plain enough for a bright gym."""

from __future__ import annotations

from typing import Any

from django.utils.translation import gettext
from django.utils.translation import gettext_noop as _

from checklists.pictures import words as drawn
from checklists.words import Spoken, pgettext_noop

MODE = Spoken(
    {
        "walking": pgettext_noop("knee", "Walking"),
        "locked": pgettext_noop("knee", "Locked"),
        "free_swing": pgettext_noop("knee", "Free swing"),
        "unknown": pgettext_noop("knee", "Not known yet"),
    },
    "knee",
)
CHECKS = Spoken(
    {
        "start_of_session": _("Start check"),
        "end_of_session": _("End check"),
        "lock_in": _("Lock in"),
        "lock_out": _("Lock out"),
        "free_swing_on": _("Free swing on"),
        "free_swing_off": _("Free swing off"),
    }
)
STEPS = Spoken(
    {
        "skin": pgettext_noop("step of a check", "skin"),
        "fit": pgettext_noop("step of a check", "fit"),
        "footwear": pgettext_noop("step of a check", "footwear"),
        "mode": pgettext_noop("step of a check", "walking mode"),
        "straight": pgettext_noop("step of a check", "straight"),
        "caught": pgettext_noop("step of a check", "caught"),
        "loaded": pgettext_noop("step of a check", "loaded"),
        "released": pgettext_noop("step of a check", "released"),
        "bends": pgettext_noop("step of a check", "bends"),
        "seated": pgettext_noop("step of a check", "seated"),
        "on": pgettext_noop("step of a check", "on"),
        "off": pgettext_noop("step of a check", "off"),
    },
    "step of a check",
)
PROOFS = Spoken(
    {
        "straight": pgettext_noop("step of a check", "Knee straight"),
        "caught": pgettext_noop("step of a check", "Lock caught"),
        "loaded": pgettext_noop("step of a check", "Holds under load"),
        "released": pgettext_noop("step of a check", "Release worked"),
        "bends": pgettext_noop("step of a check", "Bends under load"),
        "seated": pgettext_noop("step of a check", "Seated"),
        "on": pgettext_noop("step of a check", "Swings freely"),
        "off": pgettext_noop("step of a check", "Switched off"),
    },
    "step of a check",
)
# head, what good looks like, what to do when it is not; common practice, no source
START = {
    "skin": (
        _("Skin"),
        _("No marks, no warmth, no wound"),
        _("Skin: no weight on this socket until a therapist has looked at it. Follow local policy."),
    ),
    "fit": (
        _("Fit"),
        _("Donned to the mark, no rotation"),
        _("Fit: take it off and put it on again. If it is still not right, ask the prosthetist before any step."),
    ),
    "footwear": (
        _("Footwear"),
        _("The heel that the prosthesis was set up for"),
        _("Footwear: change the shoe. Another heel height changes how the knee behaves."),
    ),
    "mode": (
        _("Knee"),
        _("In walking mode, seen to bend under load"),
        _("Knee: the person sits down. Set the knee to walking and prove it with a hand on a rail."),
    ),
}
BOTH_KNEES = (_("Knees"), _("Both in walking mode, both seen to bend under load"))
INJURY = Spoken(
    {
        "none": pgettext_noop("injury", "none"),
        "minor": pgettext_noop("injury", "minor"),
        "moderate": pgettext_noop("injury", "moderate"),
        "serious": pgettext_noop("injury", "serious"),
    },
    "injury",
)
SETTING = Spoken(
    {
        "resistance": pgettext_noop("part", "Resistance"),
        "alignment": pgettext_noop("part", "Alignment"),
        "socket": pgettext_noop("part", "Socket"),
        "foot": pgettext_noop("part", "Foot"),
        "knee": pgettext_noop("part", "Knee"),
        "footwear": pgettext_noop("part", "Footwear"),
    },
    "part",
)
MEASURES = Spoken(
    {
        "load_share": _("Load share"),
        "held_s": _("Held"),
        "steps": _("Steps"),
        "step_ratio": _("Step ratio"),
        "foot_contact": _("Foot contact"),
    }
)
# What the record keeps, in English, whatever language it was tapped in.
JUDGEMENTS = (_("My judgement"),)  # for whoever may lead what is tried; the others say what happened
REASONS = (_("They went on"), _("Nothing else free"), *JUDGEMENTS)
# 'Wrong rung' is read in older records and offered no more.
WRONG_RESULT = _("Wrong result")  # with everything else right
WRONG = (_("Wrong skill"), _("Wrong support"), WRONG_RESULT, _("Wrong answer"), _("Wrong mode"), _("Wrong rung"))
STRIKE_REASONS = (*WRONG, _("Tapped by mistake"), _("Recorded twice"))
# Which of them fit a kind of fact; every kind has the last two.
STRIKE_FOR = {
    "attempt": ("Wrong skill", "Wrong support", WRONG_RESULT),
    "check": ("Wrong answer",),
    "mode_checked": ("Wrong answer",),
    "mode_set": ("Wrong mode",),
    "": ("Tapped by mistake", "Recorded twice"),
}
# Why a skill that was signed off is to be proven again: short enough for its key.
CAUSE = Spoken(
    {
        "gap": pgettext_noop("suspended", "long break"),
        "unsafe": pgettext_noop("suspended", "unsafe twice"),
        "fall": pgettext_noop("suspended", "fall"),
        "resistance": pgettext_noop("suspended", "resistance changed"),
        "alignment": pgettext_noop("suspended", "alignment changed"),
        "socket": pgettext_noop("suspended", "socket changed"),
        "foot": pgettext_noop("suspended", "foot changed"),
        "knee": pgettext_noop("suspended", "new knee"),
        "footwear": pgettext_noop("suspended", "other footwear"),
    },
    "suspended",
)
SIDES = Spoken(
    {
        "left": pgettext_noop("side", "left"),
        "right": pgettext_noop("side", "right"),
        "both": pgettext_noop("side", "both sides"),
        "": pgettext_noop("side", "not known"),
    },
    "side",
)
OUTCOME = Spoken(
    {"cleared": pgettext_noop("fall", "cleared"), "not_cleared": pgettext_noop("fall", "not cleared")}, "fall"
)


def chosen_words(reasons: tuple[str, ...]) -> list[tuple[str, str]]:
    """Each reason as the record keeps it, and as the reader reads it."""
    return [(reason, gettext(reason)) for reason in reasons]


def words_for(side: str) -> dict[str, Any]:
    """Everything by kind in the reader's language, as the page's script takes it."""
    start = {key: dict(zip(("head", "line", "bad"), map(gettext, three), strict=True)) for key, three in START.items()}
    if side == "both":
        start["mode"] |= {"head": gettext(BOTH_KNEES[0]), "line": gettext(BOTH_KNEES[1])}
    return {
        "mode": {key: word.lower() for key, word in MODE.items()},
        "Mode": dict(MODE),
        "checks": dict(CHECKS),
        "steps": dict(STEPS),
        "proofs": dict(PROOFS),
        "start": start,
        "injury": dict(INJURY),
        "setting": dict(SETTING),
        "outcome": dict(OUTCOME),
        "cause": dict(CAUSE),
        "side": SIDES[side],
        "status": dict(drawn.STATUS),
        "help": dict(drawn.HELP),
        "result": dict(drawn.RESULT),
        "Result": {key: word.capitalize() for key, word in drawn.RESULT.items()},
        "support": {key: words[1] for key, words in drawn.SUPPORT.items()},
        "Support": {key: words[1].capitalize() for key, words in drawn.SUPPORT.items()},
        "Help": {key: word.capitalize() for key, word in drawn.HELP.items()},
    }
