"""A careful six-week course of an invented person, from the first stand to stairs: eighteen sessions, no alert."""

from __future__ import annotations

from collections.abc import Callable

from tests.course_builder import Course

BARS = ("bars_both", "bars_one")


def first_stand(c: Course) -> None:
    c.come(1)
    c.tries("don_check", "none", 2)
    c.start_check()
    c.climb("sit_stand", *BARS, help="stand_by")
    c.tries("stand_load", "bars_both", help="stand_by")
    c.end()


def standing(c: Course) -> None:
    c.come(3)
    c.tries("don_check", "none")
    c.sign("don_check")
    c.start_check()
    c.tries("sit_stand", "none", 2)
    c.climb("stand_load", *BARS)
    c.tries("stand_load", "none", 3)
    c.sign("stand_load")
    c.end()


def moving_weight(c: Course) -> None:
    c.begin(5)
    c.tries("sit_stand", "none")
    c.sign("sit_stand")
    c.climb("weight_shift", *BARS, "none", "none")
    c.tries("hip_drive", "bars_both")
    c.tries("hip_drive", "bars_one", 5)
    c.sign("hip_drive")
    c.end()


def releasing(c: Course) -> None:
    c.begin(8)
    c.tries("weight_shift", "none")
    c.sign("weight_shift")
    c.tries("swing_release", "bars_both", help="stand_by")
    c.tries("swing_release", "bars_one", 10, help="stand_by")
    c.sign("swing_release")
    c.end()


def first_steps(c: Course) -> None:
    c.begin(10)
    c.tries("short_steps", "bars_both", help="stand_by")
    c.tries("short_steps", "bars_one", 2, help="stand_by")
    c.sign("short_steps")
    c.climb("even_walk", *BARS, "stick", "none")
    c.tries("yield_load", "bars_both", help="stand_by")
    c.tries("yield_load", "bars_one", 3, help="stand_by")
    c.end()


def yielding(c: Course) -> None:
    c.begin(12)
    c.tries("even_walk", "none")
    c.sign("even_walk")
    c.tries("yield_load", "bars_one", 2, help="stand_by")
    c.sign("yield_load")
    c.climb("yield_slow", *BARS)
    c.tries("yield_slow", "none", 5)
    c.sign("yield_slow")
    c.end()


def lock_and_slopes(c: Course) -> None:
    c.begin(15)
    for support in (*BARS, "contralateral_rail", "contralateral_rail"):
        c.lock_cycle(support)
    c.tries("turns", "stick")
    c.tries("turns", "none", 3)
    c.sign("turns")
    c.tries("ramp_down", "contralateral_rail", 3)
    c.tries("ramp_up", "contralateral_rail", 3)
    c.end()


def slopes(c: Course) -> None:
    c.begin(17)
    c.lock_cycle("contralateral_rail")
    c.sign("lock_use")
    c.tries("ramp_down", "ipsilateral_rail", 3)
    c.tries("ramp_down", "none", 3)
    c.sign("ramp_down")
    c.tries("ramp_up", "stick")
    c.tries("ramp_up", "none", 3)
    c.sign("ramp_up")
    c.end()


def cycling(c: Course) -> None:
    """Free swing is felt in the bars, then used on the bicycle; stairs up after it."""
    c.begin(19)
    c.free_swing_cycle("bars_both", help="stand_by")
    for _ in range(3):
        c.free_swing_cycle("none")
    c.sign("free_swing_use")
    c.tries("stair_up", "contralateral_rail", 3)
    c.tries("stair_up", "ipsilateral_rail", 3)
    c.sign("stair_up")
    c.tries("car", "none", 2)
    c.sign("car")
    c.end()


def adjustment(c: Course) -> None:
    """The prosthetist changes the resistance; what depends on it is proven again, first in the bars."""
    c.begin(22)
    c.add("setting_changed", role="prosthetist", setting="resistance", **{"from": "3", "to": "4"})
    c.check("start_of_session", skin=True, fit=True, footwear=True, mode=True)
    c.tries("yield_load", "bars_both", help="stand_by")
    c.tries("yield_load", "bars_one", 3, help="stand_by")
    c.end()


def yielding_again(c: Course) -> None:
    """An assistant takes part: nothing of it is new."""
    c.begin(24)
    c.tries("yield_load", "bars_one", 2, help="stand_by", role="assistant")
    c.sign("yield_load")
    c.climb("yield_slow", *BARS)
    c.tries("yield_slow", "none", 5, role="assistant")
    c.sign("yield_slow")
    c.end()


def slopes_again(c: Course) -> None:
    c.begin(26)
    c.tries("ramp_down", "contralateral_rail", 3)
    c.tries("ramp_down", "ipsilateral_rail", 3)
    c.tries("ramp_down", "none", 3)
    c.sign("ramp_down")
    c.tries("stair_edge", "contralateral_rail", 5)
    c.sign("stair_edge")
    c.end()


def stairs_down(c: Course) -> None:
    """A stumble that was saved, and a stopped attempt, are part of a careful course."""
    c.begin(29)
    c.tries("stair_down", "contralateral_rail", help="stand_by")
    c.tries("stair_down", "contralateral_rail", help="stand_by", result="stopped")
    c.add("near_miss", skill="stair_down", circumstances="toe caught", action="sat down, began again")
    c.tries("stair_down", "contralateral_rail", 3)
    c.climb("kneel", *BARS, "bars_one", "bars_one")
    c.sign("kneel")
    c.end()


def stairs_down_harder(c: Course) -> None:
    c.begin(31)
    c.tries("stair_down", "ipsilateral_rail", 3)
    c.sign("stair_down")
    c.end()


def floor(c: Course) -> None:
    c.begin(33)
    c.climb("floor_rise", "bars_one", "none")
    c.climb("backwards", *BARS, "stick", "none", "none", "none")
    c.sign("backwards")
    c.end()


def outdoors(c: Course) -> None:
    c.begin(36)
    c.tries("floor_rise", "none")
    c.sign("floor_rise")
    c.tries("kerb_uneven", "stick")
    c.end()


def outdoors_again(c: Course) -> None:
    c.begin(38)
    c.tries("kerb_uneven", "stick")
    c.climb("obstacle", *BARS, "stick", *["none"] * 5)
    c.end()


def at_home_on_stairs(c: Course) -> None:
    """What is signed off for the rung may be done alone."""
    c.begin(40)
    c.tries("kerb_uneven", "stick")
    c.sign("kerb_uneven")
    c.tries("carry", "bars_one")
    c.tries("stair_down", "ipsilateral_rail", help="alone")
    c.add("review", next_due="2026-07-06")
    c.end()


SESSIONS: list[Callable[[Course], None]] = [
    first_stand,
    standing,
    moving_weight,
    releasing,
    first_steps,
    yielding,
    lock_and_slopes,
    slopes,
    cycling,
    adjustment,
    yielding_again,
    slopes_again,
    stairs_down,
    stairs_down_harder,
    floor,
    outdoors,
    outdoors_again,
    at_home_on_stairs,
]

SIGNED_AT_THE_END = [
    "don_check", "sit_stand", "stand_load", "weight_shift", "hip_drive", "swing_release", "short_steps", "even_walk",
    "turns", "backwards", "yield_load", "yield_slow", "ramp_up", "ramp_down", "stair_up", "stair_edge", "stair_down",
    "kneel", "floor_rise", "kerb_uneven", "car", "lock_use", "free_swing_use",
]  # fmt: skip  # a list of words
STATUSES_AT_THE_END = {
    **dict.fromkeys(SIGNED_AT_THE_END, "signed_off"),
    "obstacle": "ready",  # five in a row on 'none', not signed yet
    "carry": "training",
}


def careful(before: Callable[[Course], None] | None = None) -> Course:
    """The careful course, whole or up to the session before the one named."""
    course = Course()
    for session in SESSIONS:
        if session is before:
            break
        session(course)
    return course
