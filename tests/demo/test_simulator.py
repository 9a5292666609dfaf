"""The simulator without a database: careful clinicians break nothing, and each planned mistake breaks its own rule."""

from __future__ import annotations

import random
from collections import Counter
from datetime import date, timedelta
from pathlib import Path

import pytest

from checklists.demo.cast import STAFF, demo_sign_ins
from checklists.demo.course import FEATURES, Course, careful_course
from checklists.demo.mistakes import MISTAKES
from checklists.demo.names import made_up_name
from checklists.demo.roster import MISTAKEN, residents
from checklists.demo.session import Session, Walker, work
from checklists.demo.situations import SITUATIONS
from checklists.domain import Episode, Protocol, load_protocol, parse_entry

PROTOCOL = load_protocol(Path("checklists/protocols/above_knee.json").read_bytes())
BEGINS = date(2025, 1, 6)
ALSO = {  # what a mistake breaks besides: the same act, seen by another rule
    "no_weight_in_free_swing": {"free_swing_proven_off"},
    "first_stairs_down": {"support_step"},
}


def broken_by(protocol: Protocol, facts: list[dict[str, object]]) -> dict[str, set[str]]:
    """Rules broken, with the acts."""
    entries = [parse_entry(fact, protocol) for fact in facts]
    replayed = Episode.replay(protocol, entries, reference=str(facts[0]["episode"]))
    assert replayed.refused == []
    found: dict[str, set[str]] = {}
    for alert in replayed.alerts:
        found.setdefault(alert.rule, set()).add(alert.entry)
    return found


@pytest.mark.parametrize("side", ["left", "right", "both"])
@pytest.mark.parametrize("luck", range(3))
def test_a_careful_course_raises_nothing(side: str, luck: int) -> None:
    """Three hundred facts with setting changes, lock cycles and, with one knee, a cycling session."""
    walker = Walker(f"careful-{side}-{luck}", side, skill=0.9 + 0.03 * luck)
    facts = careful_course(PROTOCOL, walker, f"luck {luck}", begins=BEGINS, facts=300)
    assert broken_by(PROTOCOL, facts) == {}


def test_a_careful_course_arrives_at_the_stairs() -> None:
    walker = Walker("arrives", "left", skill=0.96)
    facts = careful_course(PROTOCOL, walker, "arrives", begins=BEGINS, facts=400)
    signed = {fact["skill"] for fact in facts if fact["kind"] == "sign_off"}
    assert {"lock_use", "free_swing_use", "ramp_down", "stair_up", "stair_down"} <= signed


def test_the_same_seed_makes_the_same_course() -> None:
    walker = Walker("again", "left")
    once, twice = (careful_course(PROTOCOL, walker, "again", begins=BEGINS, facts=120) for _ in range(2))
    assert once == twice


@pytest.mark.parametrize("name", sorted(MISTAKES))
def test_each_mistake_breaks_its_own_rule_on_one_act_and_no_other(name: str) -> None:
    facts = course_with(name)
    found = broken_by(PROTOCOL, facts)
    assert set(found) == {name} | ALSO.get(name, set())
    assert len(set().union(*found.values())) == 1


def course_with(name: str) -> list[dict[str, object]]:
    """A careful course in which this mistake is made as soon as it fits."""
    features = ("yielding", "resistance") if name == "feature" else FEATURES
    course = Course(PROTOCOL, Walker("mistaken", "left", skill=0.97), name, BEGINS, features)
    for number in range(40):
        if name == "gap" and number == 12:
            course.rest(40)
        if name == "yield_proven_after_change" and number == 12:
            course.change("resistance")
            course.rest(1)
        session = course.begin_session("assistant" if name == "assistant_limits" else "therapist")
        session.open()
        made = MISTAKES[name](session)
        if not made:
            work(session)
        session.close()
        course.end_session(session)
        if made:
            return course.facts
        course.rest(3)
    raise AssertionError(f"{name} never fitted")


def test_sixty_are_open_forty_are_done_and_some_wait() -> None:
    people = residents()
    assert Counter("waits" if who.begins is None else "done" if who.ends else "open" for who in people) == {
        "open": 60,
        "done": 40,
        "waits": 6,
    }


def test_every_situation_and_every_mistake_has_somebody() -> None:
    people = residents()
    assert {who.situation for who in people if who.situation} == set(SITUATIONS)
    assert {who.mistake for who in people if who.mistake} == set(MISTAKEN)


def test_nobody_has_the_name_of_anybody_else() -> None:
    names = [who.name for who in residents()] + [who.name for who in STAFF]
    assert len(set(names)) == len(names)


def test_names_are_made_up_anew_from_the_same_seed() -> None:
    once, twice = ([made_up_name(random.Random(7), set()) for _ in range(3)] for _ in range(2))
    assert once == twice


def test_the_demo_has_ten_sign_ins_with_one_long_password() -> None:
    sign_ins = demo_sign_ins()
    assert len(sign_ins) == 10
    assert len({one.password for one in sign_ins}) == 1
    assert len(sign_ins[0].password) >= 15


def test_sessions_begin_and_end_with_their_checks() -> None:
    course = Course(PROTOCOL, Walker("checked", "left"), "checked", BEGINS, FEATURES)
    course.session()
    kinds = [fact["kind"] for fact in course.facts[1:] if fact["kind"] != "sign_off"]
    assert (kinds[:2], kinds[-2:]) == (["session_opened", "check"], ["check", "session_closed"])
    assert isinstance(course.begin_session("therapist"), Session)
    assert course.day + timedelta(days=0) == BEGINS
