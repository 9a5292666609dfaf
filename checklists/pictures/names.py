"""Names short enough to be tapped, or read at arm's length. The protocol keeps the whole titles."""

from __future__ import annotations

from collections.abc import Mapping

from django.utils.translation import gettext_noop as _

from checklists.words import Spoken, said
from checklists.words.skills import SKILLS, cut

__all__ = ["DEVIATIONS", "SKILLS", "short"]

DEVIATIONS = Spoken(
    {
        "unloading": _("Takes weight off"),
        "hands_push": _("Hands push"),
        "hollow_back": _("Hollow back"),
        "bent_hip": _("Hip stays bent"),
        "trunk_first": _("Trunk first"),
        "circumduction": _("Swings out"),
        "hip_hiking": _("Pelvis lifted"),
        "pelvic_twist": _("Pelvis twists"),
        "late_release": _("Released late"),
        "early_release": _("Released early"),
        "vaulting": _("Vaulting"),
        "lost_balance": _("Lost balance"),
        "uneven_steps": _("Uneven steps"),
        "lateral_trunk_bending": _("Trunk to the side"),
        "pivoting": _("Spins on the foot"),
        "toe_catch": _("Toe catches"),
        "stiff_knee": _("Stiff knee"),
        "hand_load": _("Weight on hands"),
        "snatching": _("Snatched off"),
        "trunk_forward": _("Trunk forward"),
        "stiff_hip": _("Stiff hip"),
        "long_steps": _("Steps too long"),
        "too_fast": _("Too fast"),
        "foot_misplaced": _("Foot misplaced"),
        "step_skipped": _("Step skipped"),
    }
)


def short(key: str, title: str, names: Mapping[str, str] = SKILLS) -> str:
    """The short name of a key; of a key that a clinic added, its title up to the first bracket, colon or semicolon."""
    if key in names:
        return names[key]
    return cut(said(title))
