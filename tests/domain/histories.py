"""Strategies for whole histories under the example protocol: ties, late facts, gaps, two knees, strike-outs, repetitions."""

from __future__ import annotations

from datetime import timedelta, timezone
from typing import Any

from hypothesis import strategies as st

from tests.domain.example import BEGINS, DOCUMENT, EPISODE, uuid_of

Fact = dict[str, Any]
SKILLS = [skill["key"] for skill in DOCUMENT["skills"]]
_MODES = st.sampled_from(["walking", "locked", "free_swing"])
_KNEE = st.sampled_from(["left", "right"])
_OFFSETS = st.sampled_from([0, 0, 60, -660, 780])


@st.composite
def instants(draw: st.DrawFn) -> str:
    """Instants within three weeks that often tie, with several offsets."""
    minutes = draw(st.sampled_from([0, 0, 1, 1, 30, 120, 240, 241]))
    moment = BEGINS + timedelta(days=draw(st.sampled_from([0, 0, 0, 1, 1, 2, 3, 5, 6, 16])), minutes=minutes)
    return moment.astimezone(timezone(timedelta(minutes=draw(_OFFSETS)))).isoformat()


@st.composite
def _attempt(draw: st.DrawFn) -> Fact:
    skill = draw(st.sampled_from(DOCUMENT["skills"]))
    rungs = skill["rungs"] + skill.get("both", {}).get("rungs", [])
    fact = {"kind": "attempt", "skill": skill["key"], "support": draw(st.sampled_from(rungs))}
    fact["help"] = draw(st.sampled_from(["hands_on", "stand_by", "stand_by", "watching", "alone"]))
    fact["result"] = draw(st.sampled_from(["safe", "safe", "safe", "unsafe", "stopped"]))
    if draw(st.booleans()):
        fact["measures"] = {
            "held_s": draw(st.sampled_from([5, 10, 12.5])),
            "step_ratio": draw(st.sampled_from([0.5, 1, 2])),
        }
    if draw(st.integers(0, 4)) == 0:
        fact["deviations"] = draw(st.sampled_from([["bent_trunk"], ["long_steps"], ["bent_trunk", "a_lost_word"]]))
    return fact


@st.composite
def _check(draw: st.DrawFn) -> Fact:
    check = draw(st.sampled_from(DOCUMENT["checks"]))
    steps = {step: draw(st.sampled_from([True, True, False])) for step in check["steps"] if draw(st.integers(0, 4))}
    return {"kind": "check", "name": check["key"], "steps": steps}


def _other() -> st.SearchStrategy[Fact]:
    skill = st.sampled_from(SKILLS)
    kinds = [
        {"kind": st.sampled_from(["session_opened", "session_closed", "episode_closed"])},
        {"kind": st.just("mode_set"), "mode": _MODES},
        {"kind": st.just("mode_checked"), "mode": _MODES, "ok": st.booleans()},
        {"kind": st.just("setting_changed"), "setting": st.sampled_from(["resistance", "socket", "foot", "footwear"])},
        {
            "kind": st.just("setting_changed"),
            "setting": st.just("knee"),
            "features": st.sampled_from([[], ["yielding"], ["lock", "yielding"]]),
        },
        {"kind": st.just("fall"), "injury": st.sampled_from(["none", "minor"])},
        {"kind": st.just("fall"), "injury": st.just("none"), "skill": st.sampled_from([*SKILLS, "a_lost_skill"])},
        {"kind": st.just("near_miss"), "skill": skill},
        {"kind": st.just("sign_off"), "skill": skill},
        {"kind": st.just("sign_off"), "skill": skill},
        {"kind": st.just("sign_off_withdrawn"), "skill": skill},
    ]
    return st.one_of([st.fixed_dictionaries(kind) for kind in kinds])


@st.composite
def _reviewed(draw: st.DrawFn, falls: list[str]) -> Fact:
    of = draw(st.lists(st.sampled_from(falls), min_size=1, max_size=2))
    return {"kind": "review", "of": of, "outcome": draw(st.sampled_from(["cleared", "cleared", "not_cleared"]))}


@st.composite
def histories(draw: st.DrawFn, *, most: int = 14, strikes: bool = True, openings: bool = True) -> list[Fact]:
    """Facts of one episode in the order of their reception; no id twice with different contents."""
    facts: list[Fact] = []
    if draw(st.integers(0, 7)):
        opening = {"kind": "episode_opened", "features": ["yielding"], "protocol": "example@3"}
        facts.append({**opening, "side": draw(st.sampled_from(["left", "left", "both"]))})
    for _ in range(draw(st.integers(1, most))):
        falls = [uuid_of(number) for number, fact in enumerate(facts) if fact["kind"] == "fall"]
        choices = [_attempt(), _attempt(), _attempt(), _check(), _other(), _other()]
        facts.append(draw(st.one_of([*choices, _reviewed(falls)] if falls else choices)))
    if openings and draw(st.integers(0, 5)) == 0:
        facts.append({"kind": "episode_opened", "side": "right", "features": [], "protocol": "example@3"})
    for _ in range(draw(st.integers(0, 2)) if strikes else 0):
        target = uuid_of(draw(st.integers(0, len(facts))))
        facts.append({"kind": "struck_out", "entry": target, "reason": "on the wrong person"})
    for number, fact in enumerate(facts):
        fact |= {
            "id": uuid_of(number),
            "episode": EPISODE,
            "at": draw(instants()),
            "by": draw(st.sampled_from(["runa", "tam"])),
        }
        if draw(st.integers(0, 2)) == 0:
            fact["seq"] = draw(st.integers(0, 2))
        if draw(st.integers(0, 3)) == 0:
            fact["role"] = draw(st.sampled_from(["assistant", "therapist"]))
        if fact["kind"] in ("mode_set", "mode_checked", "check", "setting_changed") and draw(st.booleans()):
            fact["knee"] = draw(_KNEE)
    return facts
