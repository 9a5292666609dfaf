"""Random documents and histories by `random` alone: as varied as those of hypothesis (tests/domain/random_histories,
whose words they share), and drawn a hundred times faster. Thousands can be compared so; what differs is found again by
its number.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from datetime import timedelta
from random import Random
from typing import Any

from tests.domain.random_histories import (
    CHECKS,
    DEVIATIONS,
    DURATIONS,
    FEATURES,
    HELP,
    KINDS,
    MEASURES,
    SETTINGS,
    SKILLS,
    START,
    STATUSES,
    SUPPORT,
    TAGS,
    opening,
    uuid,
)

OF_TWO = ["bars_both", "bars_one", "both_rails", "one_rail", "stick", "none"]
MODES = ["walking", "locked", "free_swing"]
RANGES: list[list[float | None]] = [[1, 2], [None, 1], [2, None], [None, None], [0.5, 2.25]]
MANY_KINDS = [*KINDS, *["attempt"] * 14, *["sign_off"] * 2, "fall", "review", "setting_changed"]
PIECES = [0, 0, 0, 60, 60, 1800, 1801, 36000, 86400, 86400, 4 * 86400]
CHECKED: list[dict[str, Any]] = [
    {"kind": "check"},
    {"kind": "check", "name": "start", "steps": {"skin": True}},
    {"kind": "check", "name": "lock", "steps": {"caught": True, "loaded": False}},
    {"name": ["start", "lock"]},
    {"steps": {"mode": False}},
]
IN_MODE: list[dict[str, Any]] = [
    {"kind": "mode_set"},
    {"kind": ["mode_set", "mode_checked"], "mode": "locked"},
    {"kind": "mode_checked", "ok": True},
    {"ok": False},
    {"mode": ["walking", "free_swing"], "knee": "left"},
    {"knee": ["left", "right"]},
]
OTHERWISE: list[dict[str, Any]] = [
    {},
    {"kind": ["fall", "near_miss"], "skill": ["a", "b"]},
    {"kind": "setting_changed", "setting": ["knee", "socket"]},
    {"features": "yielding"},
    {"kind": "review", "outcome": "cleared"},
    {"kind": "sign_off", "role": ["assistant", "prosthetist"]},
    {"kind": ["session_closed", "episode_closed"]},
    {"seq": 0},
    {"tags": "loads"},
    {"side": "both"},
]


def some(rng: Random, values: Sequence[Any], most: int = 3) -> list[Any]:
    return rng.sample(values, rng.randint(0, min(most, len(values))))


def perhaps(rng: Random, chance: float = 0.5, **fields: Callable[[], Any]) -> dict[str, Any]:
    """Each of these fields, or not."""
    return {name: make() for name, make in fields.items() if rng.random() < chance}


# -- documents --------------------------------------------------------------------------------------------------------


def document(rng: Random) -> dict[str, Any]:
    """A protocol that reading takes, with ladders, criteria, prerequisites and rules of its own."""
    skills = [_skill(rng, place) for place in range(len(SKILLS))]
    for tag in TAGS:  # a formula may name any of them
        if not any(tag in skill["tags"] for skill in skills):
            skills[-1]["tags"].append(tag)
    return {
        "key": "random",
        "version": 1,
        "title": "t",
        "gap_days": rng.randint(0, 3),
        "fall_review_days": rng.randint(0, 2),
        "support": SUPPORT,
        "help": HELP,
        "deviations": [{"key": key, "title": "t"} for key in DEVIATIONS],
        "measures": [{"key": key, "title": "t", "unit": "1"} for key in MEASURES],
        "checks": [
            {"key": key, "title": "t", "steps": steps, "per_knee": key == "lock"} for key, steps in CHECKS.items()
        ],
        "skills": skills,
        "rules": [_rule(rng, f"r{number}") for number in range(rng.randint(0, 3))],
    }


def _ladder(rng: Random, order: list[str]) -> list[str]:
    chosen = rng.sample(order, rng.randint(1, 4))
    return [rung for rung in order if rung in chosen]


def _stage(rng: Random, rungs: list[str]) -> dict[str, Any]:
    more = perhaps(rng, days=lambda: rng.randint(1, 2), help=lambda: rng.choice(HELP))
    return {"support": rng.choice(rungs), "in_a_row": rng.randint(1, 2), **more}


def _proven(rng: Random, rungs: list[str]) -> dict[str, Any]:
    staged = rng.random() < 0.5
    proven = {"stages": [_stage(rng, rungs) for _ in range(rng.randint(1, 3))]} if staged else _stage(rng, rungs)
    proven |= perhaps(rng, barred=lambda: some(rng, DEVIATIONS, 1))
    return proven | perhaps(rng, 0.25, measures=lambda: {"share": rng.choice(RANGES)})


def _skill(rng: Random, place: int) -> dict[str, Any]:
    rungs = _ladder(rng, SUPPORT)
    skill: dict[str, Any] = {
        "key": SKILLS[place],
        "title": "t",
        "rungs": rungs,
        "proven": _proven(rng, rungs),
        "after": some(rng, SKILLS[:place], 2),
        "needs": rng.choice([[], [], [], ["yielding"], ["lock", "yielding"]]),
        "tags": some(rng, TAGS, 2),
        "falls_back_on": some(rng, SETTINGS, 3),
        **perhaps(rng, valid_days=lambda: rng.randint(1, 3)),
    }
    if set(rungs) & {"contralateral_rail", "ipsilateral_rail"} or rng.random() < 0.5:
        ladder = _ladder(rng, OF_TWO)
        skill["both"] = {"rungs": ladder, "proven": _proven(rng, ladder)}
    return skill


def _rule(rng: Random, key: str) -> dict[str, Any]:
    rule = {"key": key, "sentence": "s", "severity": "minor", "do_now": "d", "when": formula(rng)}
    if rng.random() < 0.3:
        return {**rule, "require": formula(rng)}
    return {**rule, "expect": formula(rng), "within": rng.choice(DURATIONS)}


def formula(rng: Random, deep: int = 3) -> dict[str, Any]:
    """Any formula, a few steps deep at most."""
    if deep == 0 or rng.random() < 0.35:
        return _leaf(rng)

    def inner() -> dict[str, Any]:
        return formula(rng, deep - 1)

    def within() -> dict[str, Any]:
        return perhaps(rng, within=lambda: rng.choice(DURATIONS))

    way = rng.choice(["not", "all", "any", "previous", "once", "historically", "since", "count"])
    if way in ("all", "any"):
        return {way: [inner() for _ in range(rng.randint(0, 3))]}
    if way == "since":
        return {"since": [inner(), inner()], **within()}
    if way == "count":
        bounds = perhaps(rng, at_least=lambda: rng.randint(0, 2), at_most=lambda: rng.randint(0, 2))
        more = perhaps(rng, after=inner, same_skill=lambda: rng.random() < 0.5)
        return {"count": inner(), **(bounds or {"at_least": 1}), **more, **within()}
    return {way: inner(), **(within() if way in ("once", "historically") else {})}


def _leaf(rng: Random) -> dict[str, Any]:
    if rng.random() < 0.2:
        named = perhaps(rng, skill=lambda: rng.choice(SKILLS))
        return {"status": [rng.choice(STATUSES) for _ in range(rng.randint(0, 4))], **named}
    if rng.random() < 0.6:
        return {"entry": rng.choice(rng.choice([CHECKED, IN_MODE, OTHERWISE]))}
    attempt = perhaps(
        rng,
        0.3,
        skill=lambda: rng.choice([rng.choice(SKILLS), some(rng, SKILLS)]),
        support=lambda: rng.choice([rng.choice([*SUPPORT, "both_rails"]), some(rng, SUPPORT)]),
        help=lambda: rng.choice(HELP),
        result=lambda: rng.choice(["safe", "unsafe", "stopped"]),
        deviations=lambda: rng.choice(DEVIATIONS),
        measures=lambda: {rng.choice(MEASURES): rng.choice(RANGES)},
        tags=lambda: rng.choice([rng.choice(TAGS), some(rng, TAGS)]),
        role=lambda: rng.choice(["assistant", "therapist"]),
    )
    return {"entry": {"kind": "attempt", **attempt}}


# -- histories --------------------------------------------------------------------------------------------------------


def history(rng: Random, document: dict[str, Any], most: int = 24) -> list[dict[str, Any]]:
    """Anything, in any order; an id may come twice, with the same or other content; mostly with an opening."""
    count = rng.randint(1, most)
    lines = [_entry(rng, count, document) for _ in range(rng.randint(count // 2, count))]
    if rng.random() < 0.8:
        lines.insert(0, opening(rng.choice(["left", "left", "both"])))
    return lines


def instant(rng: Random) -> str:
    """Few, so that they tie and lie at the bounds; some written with another offset, on another date."""
    seconds = sum(rng.choice(PIECES) for _ in range(rng.randint(1, 4)))
    hours, written = rng.choice([(0, "Z"), (0, "Z"), (0, ".000001Z"), (14, "+14:00"), (-9.5, "-09:30")])
    return (START + timedelta(seconds=seconds, hours=hours)).strftime("%Y-%m-%dT%H:%M:%S") + written


def _entry(rng: Random, count: int, document: dict[str, Any]) -> dict[str, Any]:
    kind = rng.choice(MANY_KINDS)
    common = {"id": uuid(rng.randint(1, count)), "episode": "E", "kind": kind, "at": instant(rng), "by": "T"}
    more = perhaps(
        rng, seq=lambda: rng.randint(0, 1), role=lambda: rng.choice(["assistant", "therapist", "prosthetist"])
    )
    return {**common, **more, **_fields(rng, kind, count, document)}


def _fields(rng: Random, kind: str, count: int, document: dict[str, Any]) -> dict[str, Any]:
    def one_id() -> str:
        return uuid(rng.randint(1, count))

    def knee() -> dict[str, Any]:
        return perhaps(rng, knee=lambda: rng.choice(["left", "right"]))

    def skill() -> str:
        return rng.choice([*SKILLS, *SKILLS, "lost"]) if kind in ("fall", "near_miss") else rng.choice(SKILLS)

    make: dict[str, Callable[[], dict[str, Any]]] = {
        "attempt": lambda: _attempt(rng, rng.choice(document["skills"])),
        "setting_changed": lambda: {**_setting(rng), **knee()},
        "review": lambda: rng.choice([{}, _review(rng, one_id), _review(rng, one_id)]),
        "check": lambda: {**_check(rng), **knee()},
        "correction_answered": lambda: _answer(rng, one_id),
        "episode_opened": lambda: {
            "side": rng.choice(["left", "both"]), "features": some(rng, FEATURES, 4), "protocol": "random@1",
        },
        "mode_set": lambda: {
            "mode": rng.choice(MODES), **knee(), **perhaps(rng, support=lambda: rng.choice([*SUPPORT, "both_rails"])),
        },
        "mode_checked": lambda: {"mode": rng.choice(MODES), "ok": rng.random() < 0.5, **knee()},
        "fall": lambda: {"injury": "none", **perhaps(rng, skill=skill)},
        "near_miss": lambda: perhaps(rng, skill=skill),
        "sign_off": lambda: {"skill": skill()},
        "sign_off_withdrawn": lambda: {"skill": skill()},
        "struck_out": lambda: {"entry": one_id(), "reason": "r"},
        "correction_requested": lambda: {"text": "t", "asked_by": "p", **perhaps(rng, entry=one_id)},
    }  # fmt: skip  # a table: one kind a line or two
    return make.get(kind, dict)()


def _setting(rng: Random) -> dict[str, Any]:
    setting = rng.choice([*SETTINGS, "knee"])
    return {"setting": setting, **({"features": some(rng, FEATURES, 4)} if setting == "knee" else {})}


def _review(rng: Random, one_id: Callable[[], str]) -> dict[str, Any]:
    return {"of": [one_id() for _ in range(rng.randint(1, 4))], "outcome": rng.choice(["cleared", "not_cleared"])}


def _check(rng: Random) -> dict[str, Any]:
    name = rng.choice(list(CHECKS))
    return {"name": name, "steps": {step: rng.random() < 0.5 for step in CHECKS[name] if rng.random() < 0.7}}


def _answer(rng: Random, one_id: Callable[[], str]) -> dict[str, Any]:
    """Agreed to, with what was done or with a reason; or declined with a reason and nothing done."""
    answer: dict[str, Any] = {"request": one_id(), "answer": rng.choice(["agreed", "declined"])}
    if answer["answer"] == "declined" or rng.random() < 0.5:
        answer["reason"] = "r"
    if answer["answer"] == "agreed":
        answer["struck"] = [one_id() for _ in range(rng.randint(0 if "reason" in answer else 1, 2))]
        answer |= perhaps(rng, added=lambda: [one_id()])
    return answer


def _attempt(rng: Random, skill: dict[str, Any]) -> dict[str, Any]:
    known = [*skill["rungs"], *skill.get("both", {}).get("rungs", []), *skill["rungs"][:2]]
    more = perhaps(
        rng,
        0.4,
        deviations=lambda: some(rng, [*DEVIATIONS, "lost"], 1),
        measures=lambda: {one: rng.choice([0, 1, 2, 3, 1.5, 0.1 + 0.2]) for one in some(rng, [*MEASURES, "lost"], 2)},
    )
    return {
        "skill": skill["key"],
        "support": rng.choice(known),
        "help": rng.choice([*HELP, "stand_by", "watching"]),
        "result": rng.choice(["safe", "safe", "safe", "safe", "unsafe", "stopped"]),
        **more,
    }
