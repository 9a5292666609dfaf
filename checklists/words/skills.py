"""The short names of skills: the one name of a skill wherever people read. The protocol keeps the whole titles."""

from __future__ import annotations

import json
from functools import cache
from pathlib import Path

from django.utils.translation import gettext_noop as _

from checklists.words.spoken import Spoken

DEFAULT = Path(__file__).parent.parent / "protocols/above_knee.json"
SKILLS = Spoken(
    {
        "don_check": _("Putting on, skin and fit"),
        "sit_stand": _("Sitting down and rising"),
        "stand_load": _("Quiet standing"),
        "weight_shift": _("Weight over the forefoot"),
        "hip_drive": _("Small quick hip bend"),
        "swing_release": _("Letting the knee swing"),
        "short_steps": _("Short steps, all released"),
        "even_walk": _("Level walking, even steps"),
        "turns": _("Figure of eight"),
        "backwards": _("Walking backwards"),
        "yield_load": _("Full weight, knee bending"),
        "yield_slow": _("Yielding to slow down"),
        "ramp_up": _("Slope up"),
        "ramp_down": _("Slope down"),
        "stair_up": _("Stairs up"),
        "stair_edge": _("Foot on the edge"),
        "stair_down": _("Stairs down"),
        "kneel": _("Kneeling and getting up"),
        "floor_rise": _("Up from the floor"),
        "kerb_uneven": _("Kerbs, uneven ground"),
        "obstacle": _("Stepping over an obstacle"),
        "carry": _("Walking while carrying"),
        "car": _("In and out of a car"),
        "lock_use": _("Lock in and out, proven"),
        "free_swing_use": _("Free swing on and off, proven"),
    }
)


@cache
def _keys() -> dict[str, str]:
    """The keys of the default protocol's skills by their titles: a sentence of the core names a skill by its title."""
    return {skill["title"]: skill["key"] for skill in json.loads(DEFAULT.read_text(encoding="utf-8"))["skills"]}


def called(title: str) -> str | None:
    """The short name of the skill with this title; nothing where it is none of the default protocol's."""
    return SKILLS.get(_keys().get(title, ""))


def cut(title: str) -> str:
    """A title up to its first bracket, colon or semicolon."""
    for stop in (" (", ";", ":"):
        title = title.split(stop)[0]
    return title
