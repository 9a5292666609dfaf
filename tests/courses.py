"""The courses of the conformance set: the careful one, and one for each of the 17 rules with that one mistake.

`python -m tests.courses` writes them to tests/conformance/courses. Every mistake is made in the midst of the careful
course, and put right before anybody goes on, so that the rule is broken at that act and at no other entry.
"""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import dataclass
from datetime import timedelta
from pathlib import Path
from typing import Any

from tests import careful_course as day
from tests.careful_course import STATUSES_AT_THE_END, careful
from tests.course_builder import Course

FOLDER = Path(__file__).parent / "conformance" / "courses"
SEVERITY = {
    "contralateral_before_ipsilateral": "major",
    "start_check": "major",
    "assistant_limits": "major",
    "prerequisite": "major",
    "support_step": "major",
    "gap": "major",
}  # all others are critical


@dataclass(frozen=True)
class Mistake:
    """What is done in a session, and which rules the act (an entry's id) breaks."""

    name: str
    why: str
    rules: list[str]
    course: Course
    act: str


Making = Callable[[], Mistake]
MISTAKES: list[Making] = []


def mistake(number: str, *rules: str) -> Callable[[Callable[[], tuple[Course, str]]], Making]:
    """Registers a course; its docstring says what went wrong."""

    def register(make: Callable[[], tuple[Course, str]]) -> Making:
        def made() -> Mistake:
            course, act = make()
            why = " ".join((make.__doc__ or "").split())
            return Mistake(f"rule_{number}_{make.__name__}", why, list(rules), course, act)

        MISTAKES.append(made)
        return made

    return register


@mistake("01", "lock_verified")
def lock_trusted_unverified() -> tuple[Course, str]:
    """The lock is engaged and stood on at once; straight, caught, loaded were not checked. Then they are."""
    c = careful(before=day.lock_and_slopes)
    c.begin(15)
    c.set_mode("locked", "contralateral_rail")
    act = c.tries("stand_load", "none")
    c.check("lock_in", straight=True, caught=True, loaded=True)
    c.tries("stand_load", "none")
    c.set_mode("walking")
    c.check("lock_out", released=True, bends=True)
    c.end()
    return c, act


@mistake("02", "walking_mode_proven")
def lock_released_unverified() -> tuple[Course, str]:
    """The lock is released and the person walks before the knee was shown to bend."""
    c = careful(before=day.lock_and_slopes)
    c.begin(15)
    c.set_mode("locked", "bars_both")
    c.check("lock_in", straight=True, caught=True, loaded=True)
    c.set_mode("walking", "bars_both")
    act = c.tries("even_walk", "none")
    c.check("lock_out", released=True, bends=True)
    c.tries("even_walk", "none")
    c.end()
    return c, act


@mistake("03", "no_weight_in_free_swing", "free_swing_proven_off")
def weight_in_free_swing() -> tuple[Course, str]:
    """In free swing, felt in the bars, weight is put on the knee. Rule 4 says so of the same act."""
    c = careful(before=day.cycling)
    c.begin(19)
    c.set_mode("free_swing", "bars_both")
    act = c.tries("stand_load", "bars_both", help="hands_on", result="unsafe")
    c.set_mode("walking", "bars_both")
    c.check("free_swing_off", off=True, loaded=True)
    c.end()
    return c, act


@mistake("04", "free_swing_proven_off")
def free_swing_off_unverified() -> tuple[Course, str]:
    """Free swing is switched off on the bicycle, and the person stands up before it was proven off under load."""
    c = careful(before=day.cycling)
    c.begin(19)
    c.free_swing_cycle("bars_both", help="stand_by")
    c.set_mode("free_swing", "none")
    c.check("free_swing_on", seated=True, on=True)
    c.set_mode("walking", "none")
    act = c.tries("stand_load", "none")
    c.check("free_swing_off", off=True, loaded=True)
    c.tries("stand_load", "none")
    c.end()
    return c, act


@mistake("05", "free_swing_switched_on_safely")
def free_swing_first_on_the_bicycle() -> tuple[Course, str]:
    """The first time free swing is switched on is on the bicycle; it was never felt in the bars."""
    c = careful(before=day.cycling)
    c.begin(19)
    act = c.set_mode("free_swing", "none")
    c.check("free_swing_on", seated=True, on=True)
    c.set_mode("walking", "none")
    c.check("free_swing_off", off=True, loaded=True)
    c.free_swing_cycle("bars_both", help="stand_by")
    c.end()
    return c, act


@mistake("05", "free_swing_switched_on_safely")
def free_swing_on_while_standing() -> tuple[Course, str]:
    """On the bicycle's side, not in the bars: the check says that the person was not seated."""
    c = careful(before=day.cycling)
    c.begin(19)
    c.free_swing_cycle("bars_both", help="stand_by")
    c.set_mode("free_swing", "none")
    act = c.check("free_swing_on", seated=False, on=True)
    c.set_mode("walking", "none")
    c.check("free_swing_off", off=True, loaded=True)
    c.end()
    return c, act


@mistake("06", "first_stairs_down", "support_step")
def first_stairs_on_the_ipsilateral_rail() -> tuple[Course, str]:
    """The first step down ever is taken on the ipsilateral rail. That it is a rung too far is said as well."""
    c = careful(before=day.slopes_again)
    c.begin(26)
    act = c.tries("stair_edge", "ipsilateral_rail", help="stand_by")
    c.tries("stair_edge", "contralateral_rail", help="stand_by")
    c.tries("stair_edge", "ipsilateral_rail", help="stand_by")
    c.end()
    return c, act


@mistake("06", "prerequisite")
def first_stairs_from_the_top() -> tuple[Course, str]:
    """Stairs down before the edge of the bottom step was signed off: the part of rule 6 that is built in."""
    c = careful(before=day.stairs_down)
    c.entries = [entry for entry in c.entries if entry.get("skill") != "stair_edge"]
    c.begin(29)
    act = c.tries("stair_down", "contralateral_rail", help="stand_by")
    c.end()
    return c, act


@mistake("07", "contralateral_before_ipsilateral")
def ipsilateral_rail_after_two() -> tuple[Course, str]:
    """Down the slope on the ipsilateral rail after two safe ones on the contralateral rail; three are asked."""
    c = careful(before=day.lock_and_slopes)
    c.begin(15)
    c.tries("ramp_down", "contralateral_rail", 2)
    act = c.tries("ramp_down", "ipsilateral_rail")
    c.tries("ramp_down", "contralateral_rail")
    c.tries("ramp_down", "ipsilateral_rail")
    c.end()
    return c, act


@mistake("08", "support_step")
def a_rung_skipped() -> tuple[Course, str]:
    """Quiet standing from both hands on the bars straight to none."""
    c = careful(before=day.standing)
    c.come(3)
    c.tries("don_check", "none")
    c.sign("don_check")
    c.start_check()
    act = c.tries("stand_load", "none")
    c.climb("stand_load", *day.BARS, "none")
    c.end()
    return c, act


@mistake("09", "prerequisite")
def a_skill_too_early() -> tuple[Course, str]:
    """Figure-of-eight on the stick before level walking was signed off."""
    c = careful(before=day.yielding)
    c.begin(12)
    act = c.tries("turns", "stick")
    c.tries("even_walk", "none")
    c.sign("even_walk")
    c.tries("turns", "stick")
    c.end()
    return c, act


@mistake("10", "start_check")
def no_start_check() -> tuple[Course, str]:
    """The session begins with an attempt; the start-of-session check is done after it."""
    c = careful(before=day.slopes)
    c.come(17)
    act = c.tries("even_walk", "none")
    c.start_check()
    c.tries("even_walk", "none")
    c.end()
    return c, act


@mistake("11", "walking_mode_at_close")
def closed_with_the_lock_in() -> tuple[Course, str]:
    """The session is closed with the lock in; the person is called back within the hour."""
    c = careful(before=day.slopes)
    c.begin(17)
    c.set_mode("locked", "contralateral_rail")
    c.check("lock_in", straight=True, caught=True, loaded=True)
    act = c.add("session_closed")
    c.clock += timedelta(minutes=40)
    c.set_mode("walking")
    c.check("lock_out", released=True, bends=True)
    return c, act


@mistake("11", "walking_mode_in_time")
def never_closed_with_the_lock_in() -> tuple[Course, str]:
    """Nobody closes the session, and the lock stays in; the next session proves walking mode two days later."""
    c = careful(before=day.slopes)
    c.begin(17)
    act = c.set_mode("locked", "contralateral_rail")
    c.check("lock_in", straight=True, caught=True, loaded=True)
    c.begin(19)
    c.tries("even_walk", "none")
    c.end()
    return c, act


@mistake("12", "yield_proven_after_change")
def slope_after_a_change_of_resistance() -> tuple[Course, str]:
    """Up the slope after a change of resistance, before yielding was proven in the bars."""
    c = careful(before=day.adjustment)
    c.begin(22)
    c.add("setting_changed", role="prosthetist", setting="resistance", **{"from": "3", "to": "4"})
    act = c.tries("ramp_up", "none")
    c.tries("yield_load", "bars_both", help="stand_by")
    c.tries("ramp_up", "none")
    c.end()
    return c, act


@mistake("13", "fall_unreviewed")
def a_fall_forgotten() -> tuple[Course, str]:
    """A fall while walking backwards; nobody looks at it for five days. Other skills go on meanwhile."""
    c = careful(before=day.outdoors)
    act = c.add(
        "fall", skill="backwards", injury="minor", circumstances="heel caught", action="sat down, looked for injury"
    )
    c.begin(36)
    c.tries("even_walk", "none")
    c.end()
    c.begin(40)
    c.add("review", of=[act], outcome="cleared")
    c.end()
    return c, act


@mistake("13", "fall_review")
def tried_again_before_it_is_cleared() -> tuple[Course, str]:
    """A fall while walking backwards; the next day it is tried again, watched, before anybody looked at the fall."""
    c = careful(before=day.outdoors)
    fall = c.add("fall", skill="backwards", injury="none", circumstances="heel caught", action="sat down")
    c.begin(34)
    act = c.tries("backwards", "bars_both")
    c.add("review", of=[fall], outcome="cleared")
    c.tries("backwards", "bars_both")
    c.end()
    return c, act


@mistake("14", "gap")
def back_after_five_weeks() -> tuple[Course, str]:
    """Five weeks without an attempt, and the first one is level walking without support."""
    c = careful(before=day.outdoors)
    c.begin(69)
    act = c.tries("even_walk", "none")
    c.tries("even_walk", "none")
    c.end()
    return c, act


@mistake("15", "alone")
def alone_before_it_is_signed_off() -> tuple[Course, str]:
    """Figure-of-eight alone, tried before but not signed off."""
    c = careful(before=day.lock_and_slopes)
    c.begin(15)
    c.tries("turns", "stick")
    act = c.tries("turns", "none", help="alone")
    c.end()
    return c, act


@mistake("16", "failed_check_cleared")
def weight_after_a_failed_check() -> tuple[Course, str]:
    """After the lock was released the knee did not bend, and the person stands on it before anything was proven."""
    c = careful(before=day.lock_and_slopes)
    c.begin(15)
    c.set_mode("locked", "bars_both")
    c.check("lock_in", straight=True, caught=True, loaded=True)
    c.set_mode("walking", "bars_both")
    c.check("lock_out", released=True, bends=False)
    act = c.tries("stand_load", "bars_both", help="stand_by")
    c.check("lock_out", released=True, bends=True)
    c.tries("stand_load", "none")
    c.end()
    return c, act


@mistake("17", "assistant_limits")
def an_assistant_starts_something_new() -> tuple[Course, str]:
    """The very first attempt of stairs up is an assistant's; once a therapist has led one, the next may be."""
    c = careful(before=day.cycling)
    c.begin(19)
    act = c.tries("stair_up", "contralateral_rail", help="stand_by", role="assistant")
    c.tries("stair_up", "contralateral_rail", help="stand_by")
    c.tries("stair_up", "contralateral_rail", help="stand_by", role="assistant")
    c.end()
    return c, act


@mistake("17", "assistant_limits")
def a_prosthetist_signs_off() -> tuple[Course, str]:
    """The evidence for level walking is there; a prosthetist signs it off."""
    c = careful(before=day.yielding)
    c.begin(12)
    c.tries("even_walk", "none")
    act = c.add("sign_off", role="prosthetist", skill="even_walk")
    c.end()
    return c, act


def careful_case() -> dict[str, Any]:
    course = careful()
    return {
        "name": "careful",
        "why": "Six careful weeks from the first stand to stairs, with a change of resistance, lock cycles and a "
        "cycling session: every step in order, every check done, so no alert at all.",
        "entries": course.entries,
        "expected": [_line(course, [], STATUSES_AT_THE_END)],
    }


def _line(course: Course, alerts: list[dict[str, Any]], skills: dict[str, str]) -> dict[str, Any]:
    last = course.entries[-1]
    return {"episode": last["episode"], "at": last["at"], "alerts": alerts, "skills": skills, "refused": []}


def case_of(made: Mistake) -> dict[str, Any]:
    at = next(entry["at"] for entry in made.course.entries if entry["id"] == made.act)
    alerts = [
        {"rule": rule, "entry": made.act, "at": at, "severity": SEVERITY.get(rule, "critical")} for rule in made.rules
    ]
    line = _line(made.course, alerts, {})
    del line["skills"]
    return {"name": made.name, "why": made.why, "entries": made.course.entries, "expected": [line]}


def files() -> dict[str, str]:
    """File name -> text, one course a file, one entry a line."""
    cases = [careful_case(), *[case_of(make()) for make in MISTAKES]]
    return {f"{case['name']}.json": _text(case) for case in cases}


def _text(case: dict[str, Any]) -> str:
    rows = ",\n    ".join(json.dumps(entry) for entry in case["entries"])
    expected = json.dumps(case["expected"][0])
    return (
        f'{{"document": "above_knee", "cases": [{{\n  "name": {json.dumps(case["name"])},\n'
        f'  "why": {json.dumps(case["why"])},\n  "entries": [\n    {rows}\n  ],\n  "expected": [{expected}]\n}}]}}\n'
    )


if __name__ == "__main__":
    FOLDER.mkdir(exist_ok=True)
    for name, text in files().items():
        (FOLDER / name).write_text(text, encoding="utf-8")
