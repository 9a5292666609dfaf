"""A finite alphabet of entries under the default protocol: every way in which its rules tell entries apart."""

from __future__ import annotations

from typing import Any

ALL_FEATURES = ["lock", "free_swing", "yielding", "resistance"]
START = {"skin": True, "fit": True, "footwear": True, "mode": True}


def _check(name: str, **steps: bool) -> dict[str, Any]:
    return {"kind": "check", "name": name, "steps": steps}


def attempt(skill: str, support: str, result: str = "safe", **more: Any) -> dict[str, Any]:
    return {"kind": "attempt", "skill": skill, "support": support, "help": "stand_by", "result": result, **more}


MODES: dict[str, dict[str, Any]] = {
    **{f"set_{mode}": {"kind": "mode_set", "mode": mode} for mode in ("walking", "locked", "free_swing")},
    "free_swing_in_bars": {"kind": "mode_set", "mode": "free_swing", "support": "bars_one"},
    "free_swing_on_bicycle": {"kind": "mode_set", "mode": "free_swing", "support": "none"},
    "free_swing_on_stick": {"kind": "mode_set", "mode": "free_swing", "support": "stick"},
    **{
        f"{'found' if ok else 'not'}_{mode}": {"kind": "mode_checked", "mode": mode, "ok": ok}
        for mode in ("walking", "locked", "free_swing")
        for ok in (True, False)
    },
    "start_good": _check("start_of_session", **START),
    "start_bad_mode": _check("start_of_session", **{**START, "mode": False}),
    "start_without_mode": _check("start_of_session", skin=True, fit=True, footwear=True),
    "end_good": _check("end_of_session", mode=True, skin=False),
    "end_bad_mode": _check("end_of_session", mode=False),
    "lock_in_good": _check("lock_in", straight=True, caught=True, loaded=True),
    "lock_in_part": _check("lock_in", straight=True, caught=True),
    "lock_in_bad": _check("lock_in", straight=True, caught=False),
    "lock_in_all_but_bad": _check("lock_in", straight=True, caught=True, loaded=False),
    "lock_out_good": _check("lock_out", released=True, bends=True),
    "lock_out_part": _check("lock_out", released=True),
    "lock_out_bad": _check("lock_out", released=False),
    "swing_on": _check("free_swing_on", seated=True, on=True),
    "swing_on_standing": _check("free_swing_on", seated=False, on=True),
    "standing_only": _check("free_swing_on", seated=False),
    "seated_only": _check("free_swing_on", seated=True),
    "swing_not_on": _check("free_swing_on", on=False),
    "swing_not_on_standing": _check("free_swing_on", seated=False, on=False),
    "swing_off_good": _check("free_swing_off", off=True, loaded=True),
    "swing_off_part": _check("free_swing_off", loaded=True),
    "swing_off_bad": _check("free_swing_off", off=True, loaded=False),
    "new_knee": {"kind": "setting_changed", "setting": "knee", "features": ALL_FEATURES},
    "new_knee_stiff": {"kind": "setting_changed", "setting": "knee", "features": ["lock"]},
    "resistance": {"kind": "setting_changed", "setting": "resistance"},
    "foot": {"kind": "setting_changed", "setting": "foot"},
    "session_opened": {"kind": "session_opened"},
    "session_closed": {"kind": "session_closed"},
    "episode_closed": {"kind": "episode_closed"},
}

ATTEMPTS: dict[str, dict[str, Any]] = {
    "stands": attempt("stand_load", "bars_both"),
    "stands_stopped": attempt("stand_load", "bars_both", "stopped"),
    "sits": attempt("sit_stand", "bars_both", "unsafe"),
    "dons": attempt("don_check", "none"),
    "locks": attempt("lock_use", "bars_one"),
    "locks_stopped": attempt("lock_use", "bars_one", "stopped"),
    "swings": attempt("free_swing_use", "bars_both"),
    "yields_in_bars": attempt("yield_load", "bars_one"),
    "yields_unsafe": attempt("yield_load", "bars_both", "unsafe"),
    "yields_without": attempt("yield_load", "none"),
    "ramp_up": attempt("ramp_up", "stick"),
    "stair_up": attempt("stair_up", "contralateral_rail"),
    "edge_contralateral": attempt("stair_edge", "contralateral_rail"),
    "edge_contralateral_unsafe": attempt("stair_edge", "contralateral_rail", "unsafe"),
    "edge_ipsilateral": attempt("stair_edge", "ipsilateral_rail"),
    "down_both_rails": attempt("stair_down", "both_rails"),
    "down_none": attempt("stair_down", "none"),
}


def of_one_skill(skill: str, rungs: list[str]) -> dict[str, dict[str, Any]]:
    """Attempts of one skill on each rung, with each result, and by whom; its sign-offs; what else may come between."""
    letters = {
        f"{support}_{result}": attempt(skill, support, result)
        for support in rungs
        for result in ("safe", "unsafe", "stopped")
    }
    letters["assistant"] = attempt(skill, rungs[0], "stopped", role="assistant")
    letters["therapist"] = attempt(skill, rungs[0], "stopped", role="therapist")
    for role in ("assistant", "prosthetist", "therapist", "clinic_lead"):
        letters[f"signed_by_{role}"] = {"kind": "sign_off", "skill": skill, "role": role}
    letters["signed_by_somebody"] = {"kind": "sign_off", "skill": skill}
    letters["withdrawn"] = {"kind": "sign_off_withdrawn", "skill": skill, "role": "assistant"}
    letters["near_miss"] = {"kind": "near_miss", "skill": skill}
    between = ["new_knee", "resistance", "foot", "session_closed", "start_good"]
    return letters | {name: MODES[name] for name in between}
