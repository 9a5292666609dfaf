"""What the Floor says, in one place: short enough for a key, plain enough for a bright gym."""

from __future__ import annotations

from typing import Any

from checklists.pictures import words as drawn

MODE = {"walking": "Walking", "locked": "Locked", "free_swing": "Free swing", "unknown": "Not known yet"}
CHECKS = {
    "start_of_session": "Start check",
    "end_of_session": "End check",
    "lock_in": "Lock in",
    "lock_out": "Lock out",
    "free_swing_on": "Free swing on",
    "free_swing_off": "Free swing off",
}
STEPS = {
    "skin": "skin",
    "fit": "fit",
    "footwear": "footwear",
    "mode": "walking mode",
    "straight": "straight",
    "caught": "caught",
    "loaded": "loaded",
    "released": "released",
    "bends": "bends",
    "seated": "seated",
    "on": "on",
    "off": "off",
}
PROOFS = {
    "straight": "Knee straight",
    "caught": "Lock caught",
    "loaded": "Holds under load",
    "released": "Release worked",
    "bends": "Bends under load",
    "seated": "Seated",
    "on": "Swings freely",
    "off": "Switched off",
}
# head, what good looks like, what to do when it is not; common practice, no source
START = {
    "skin": (
        "Skin",
        "No marks, no warmth, no wound",
        "Skin: no weight on this socket until a therapist has looked at it. Follow local policy.",
    ),
    "fit": (
        "Fit",
        "Donned to the mark, no rotation",
        "Fit: take it off and put it on again. If it is still not right, ask the prosthetist before any step.",
    ),
    "footwear": (
        "Footwear",
        "The heel that the prosthesis was set up for",
        "Footwear: change the shoe. Another heel height changes how the knee behaves.",
    ),
    "mode": (
        "Knee",
        "In walking mode, seen to bend under load",
        "Knee: the person sits down. Set the knee to walking and prove it with a hand on a rail.",
    ),
}
BOTH_KNEES = ("Knees", "Both in walking mode, both seen to bend under load")
INJURY = {"none": "none", "minor": "minor", "moderate": "moderate", "serious": "serious"}
SETTING = {
    "resistance": "Resistance",
    "alignment": "Alignment",
    "socket": "Socket",
    "foot": "Foot",
    "knee": "Knee",
    "footwear": "Footwear",
}
MEASURES = {
    "load_share": "Load share",
    "held_s": "Held",
    "steps": "Steps",
    "step_ratio": "Step ratio",
    "foot_contact": "Foot contact",
}
SUFFIX = {"%": " %", "s": " s", "1": ""}
REASONS = ("They went on", "Nothing else free", "My judgement")
STRIKE_REASONS = ("Wrong skill", "Wrong rung", "Wrong result", "Recorded twice")
SIDES = {"left": "left", "right": "right", "both": "both sides", "": "not known"}


def words_for(side: str) -> dict[str, Any]:
    """Everything by kind, as the page's script takes it."""
    start = {key: {"head": head, "line": line, "bad": bad} for key, (head, line, bad) in START.items()}
    if side == "both":
        start["mode"] |= {"head": BOTH_KNEES[0], "line": BOTH_KNEES[1]}
    return {
        "mode": {key: word.lower() for key, word in MODE.items()},
        "Mode": MODE,
        "checks": CHECKS,
        "steps": STEPS,
        "proofs": PROOFS,
        "start": start,
        "injury": INJURY,
        "setting": SETTING,
        "side": SIDES[side],
        "status": dict(drawn.STATUS),
        "help": dict(drawn.HELP),
        "result": dict(drawn.RESULT),
        "Result": {key: word.capitalize() for key, word in drawn.RESULT.items()},
        "support": {key: words[1] for key, words in drawn.SUPPORT.items()},
        "Support": {key: words[1].capitalize() for key, words in drawn.SUPPORT.items()},
        "Help": {key: word.capitalize() for key, word in drawn.HELP.items()},
    }
