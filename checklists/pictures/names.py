"""Names short enough to be tapped, or read at arm's length. The protocol keeps the whole titles."""

from __future__ import annotations

SKILLS = {
    "don_check": "Putting on, skin and fit",
    "sit_stand": "Sitting down and rising",
    "stand_load": "Quiet standing",
    "weight_shift": "Weight over the forefoot",
    "hip_drive": "Small quick hip bend",
    "swing_release": "Letting the knee swing",
    "short_steps": "Short steps, all released",
    "even_walk": "Level walking, even steps",
    "turns": "Figure of eight",
    "backwards": "Walking backwards",
    "yield_load": "Full weight, knee bending",
    "yield_slow": "Yielding to slow down",
    "ramp_up": "Slope up",
    "ramp_down": "Slope down",
    "stair_up": "Stairs up",
    "stair_edge": "Foot on the edge",
    "stair_down": "Stairs down",
    "kneel": "Kneeling and getting up",
    "floor_rise": "Up from the floor",
    "kerb_uneven": "Kerbs, uneven ground",
    "obstacle": "Stepping over an obstacle",
    "carry": "Walking while carrying",
    "car": "In and out of a car",
    "lock_use": "Lock in and out, proven",
    "free_swing_use": "Free swing on and off, proven",
}
DEVIATIONS = {
    "unloading": "Takes weight off",
    "hands_push": "Hands push",
    "hollow_back": "Hollow back",
    "bent_hip": "Hip stays bent",
    "trunk_first": "Trunk first",
    "circumduction": "Swings out",
    "hip_hiking": "Pelvis lifted",
    "pelvic_twist": "Pelvis twists",
    "late_release": "Released late",
    "early_release": "Released early",
    "vaulting": "Vaulting",
    "lost_balance": "Lost balance",
    "uneven_steps": "Uneven steps",
    "lateral_trunk_bending": "Trunk to the side",
    "pivoting": "Spins on the foot",
    "toe_catch": "Toe catches",
    "stiff_knee": "Stiff knee",
    "hand_load": "Weight on hands",
    "snatching": "Snatched off",
    "trunk_forward": "Trunk forward",
    "stiff_hip": "Stiff hip",
    "long_steps": "Steps too long",
    "too_fast": "Too fast",
    "foot_misplaced": "Foot misplaced",
    "step_skipped": "Step skipped",
}


def short(key: str, title: str, names: dict[str, str] = SKILLS) -> str:
    """The short name of a key; of a key that a clinic added, its title up to the first bracket, colon or semicolon."""
    if key in names:
        return names[key]
    for stop in (" (", ";", ":"):
        title = title.split(stop)[0]
    return title
