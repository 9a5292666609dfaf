"""Strategies for whole histories under the example protocol: ties, late facts, gaps, two knees, strike-outs."""

from __future__ import annotations

from datetime import timedelta, timezone
from typing import Any

from hypothesis import strategies as st

from tests.domain.example import BEGINS, DOCUMENT, EPISODE, uuid_of

Fact = dict[str, Any]
SKILLS = [skill["key"] for skill in DOCUMENT["skills"]]
ZONES = [timezone(timedelta(minutes=minutes)) for minutes in (0, 0, 60, -660, 780)]
INSTANTS = [
    (BEGINS + timedelta(days=days, minutes=minutes)).astimezone(zone).isoformat()
    for days in (0, 0, 0, 1, 1, 2, 3, 5, 6, 16)
    for minutes in (0, 0, 1, 1, 30, 120, 240, 241)
    for zone in ZONES
]
_MODES = st.sampled_from(["walking", "locked", "free_swing"])
_SKILL = st.sampled_from(SKILLS)


def _attempt_of(skill: dict[str, Any]) -> st.SearchStrategy[Fact]:
    return st.fixed_dictionaries(
        {
            "kind": st.just("attempt"),
            "skill": st.just(skill["key"]),
            "support": st.sampled_from(skill["rungs"] + skill.get("both", {}).get("rungs", [])),
            "help": st.sampled_from(["hands_on", "stand_by", "stand_by", "watching", "alone"]),
            "result": st.sampled_from(["safe", "safe", "safe", "unsafe", "stopped"]),
        },
        optional={
            "measures": st.sampled_from(
                [{"held_s": held, "step_ratio": ratio} for held in (5, 10, 12.5) for ratio in (0.5, 1, 2)]
            ),
            "deviations": st.sampled_from([[], [], ["bent_trunk"], ["long_steps"], ["bent_trunk", "a_lost_word"]]),
        },
    )


def _check_of(check: dict[str, Any]) -> st.SearchStrategy[Fact]:
    done = [{}, *({step: found} for step in check["steps"] for found in (True, False))]
    done += [dict(zip(check["steps"], found, strict=True)) for found in ((True, True), (True, True), (False, True))]
    return st.fixed_dictionaries(
        {"kind": st.just("check"), "name": st.just(check["key"]), "steps": st.sampled_from(done)}
    )


_ATTEMPT = st.one_of([_attempt_of(skill) for skill in DOCUMENT["skills"]])
_OTHER = st.one_of(
    [_check_of(check) for check in DOCUMENT["checks"]]
    + [
        st.fixed_dictionaries(kind)
        for kind in (
            {"kind": st.sampled_from(["session_opened", "session_closed", "episode_closed"])},
            {"kind": st.just("mode_set"), "mode": _MODES},
            {"kind": st.just("mode_checked"), "mode": _MODES, "ok": st.booleans()},
            {"kind": st.just("setting_changed"), "setting": st.sampled_from(["resistance", "socket", "foot"])},
            {
                "kind": st.just("setting_changed"),
                "setting": st.just("knee"),
                "features": st.sampled_from([[], ["yielding"], ["lock", "yielding"]]),
            },
            {"kind": st.just("fall"), "injury": st.sampled_from(["none", "minor"])},
            {"kind": st.just("fall"), "injury": st.just("none"), "skill": st.sampled_from([*SKILLS, "a_lost_skill"])},
            {"kind": st.just("near_miss"), "skill": _SKILL},
            {"kind": st.sampled_from(["sign_off", "sign_off", "sign_off_withdrawn"]), "skill": _SKILL},
        )
    ]
)
_FACT = st.one_of(_ATTEMPT, _OTHER)
_STAMP = st.fixed_dictionaries(
    {"at": st.sampled_from(INSTANTS), "by": st.sampled_from(["runa", "tam"])},
    optional={
        "seq": st.integers(0, 2),
        "role": st.sampled_from(["assistant", "therapist"]),
        "knee": st.sampled_from(["left", "right"]),
    },
)
_OUTCOMES = st.sampled_from(["cleared", "cleared", "not_cleared"])
_OF_A_KNEE = ("mode_set", "mode_checked", "check", "setting_changed")


@st.composite
def histories(draw: st.DrawFn, *, most: int = 14, strikes: bool = True, openings: bool = True) -> list[Fact]:
    """Facts of one episode in the order of their reception; no id twice with different contents."""
    facts: list[Fact] = []
    if draw(st.integers(0, 7)):
        opening = {"kind": "episode_opened", "features": ["yielding"], "protocol": "example@3"}
        facts.append({**opening, "side": draw(st.sampled_from(["left", "left", "both"]))})
    facts += draw(st.lists(_FACT, min_size=1, max_size=most))
    falls = [uuid_of(number) for number, fact in enumerate(facts) if fact["kind"] == "fall"]
    for outcome in draw(st.lists(_OUTCOMES, max_size=3)) if falls else []:
        facts.append({"kind": "review", "of": [draw(st.sampled_from(falls))], "outcome": outcome})
    if openings and draw(st.integers(0, 5)) == 0:
        facts.append({"kind": "episode_opened", "side": "right", "features": [], "protocol": "example@3"})
    for target in draw(st.lists(st.integers(0, len(facts)), max_size=2)) if strikes else []:
        facts.append({"kind": "struck_out", "entry": uuid_of(target), "reason": "on the wrong person"})
    stamps = draw(st.lists(_STAMP, min_size=len(facts), max_size=len(facts)))
    for number, (fact, stamp) in enumerate(zip(facts, stamps, strict=True)):
        stamp = stamp if fact["kind"] in _OF_A_KNEE else {name: stamp[name] for name in stamp if name != "knee"}
        facts[number] = {**fact, **stamp, "id": uuid_of(number), "episode": EPISODE}
    return facts
