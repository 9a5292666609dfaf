"""The default protocol against the trade's tables, typed a second time from the description of the trade.

Thresholds and intervals are the clinic's defaults: common practice, no source.
"""

from __future__ import annotations

import json
import re
from random import Random
from typing import Any

import pytest

from checklists.domain import BUILTIN_RULES, load_protocol
from tests.conformance_set import DEFAULT_PROTOCOL
from tests.domain import definition
from tests.domain.random_histories import uuid
from tests.domain.test_definition import agree
from tests.oracles.letters import ATTEMPTS, MODES

DOCUMENT = json.loads(DEFAULT_PROTOCOL.read_text(encoding="utf-8"))
SKILLS = {skill["key"]: skill for skill in DOCUMENT["skills"]}

# key | after | criterion: rung number [days] [stand_by], … | barred | falls back on (knee: see below) | valid days
TABLE = """
don_check | | none 3 2d | | socket foot | 365
sit_stand | don_check | none 3 2d | unloading hands_push | socket alignment | 365
stand_load | don_check | none 3 | hollow_back bent_hip | socket alignment | 365
weight_shift | stand_load | none 3 2d | trunk_first | alignment foot | 365
hip_drive | stand_load | bars_one 5 | circumduction hip_hiking pelvic_twist | | 365
swing_release | weight_shift hip_drive | bars_one 10 stand_by | late_release early_release | alignment foot | 365
short_steps | swing_release | bars_one 2 stand_by | vaulting lost_balance | alignment foot | 365
even_walk | short_steps | none 2 2d | uneven_steps lateral_trunk_bending | alignment foot | 365
turns | even_walk | none 3 | pivoting | | 365
backwards | even_walk | none 3 | toe_catch stiff_knee | resistance | 365
yield_load | swing_release | bars_one 5 2d stand_by | hand_load snatching | resistance | 365
yield_slow | yield_load | none 5 | snatching | resistance | 365
ramp_up | even_walk | contralateral_rail 3, none 3 | circumduction hip_hiking | alignment | 180
ramp_down | even_walk yield_slow | contralateral_rail 3, ipsilateral_rail 3, none 3 \
 | trunk_forward stiff_hip long_steps too_fast | resistance alignment | 180
stair_up | even_walk | contralateral_rail 3, ipsilateral_rail 3 | toe_catch | alignment foot | 180
stair_edge | even_walk yield_slow | contralateral_rail 5 | trunk_forward stiff_hip | resistance foot footwear | 180
stair_down | stair_edge ramp_down | contralateral_rail 3, ipsilateral_rail 3 | trunk_forward foot_misplaced \
 | resistance foot footwear | 180
kneel | yield_load | bars_one 3 | | resistance | 365
floor_rise | kneel | none 2 2d | | | 180
kerb_uneven | even_walk ramp_down | stick 3 3d | toe_catch | foot | 180
obstacle | even_walk | none 5 | toe_catch | | 365
carry | even_walk | none 3 | | | 365
car | sit_stand | none 2 | | | 365
lock_use | stand_load | contralateral_rail 3 2d | step_skipped | | 180
free_swing_use | even_walk | bars_both 1 stand_by, none 3 | step_skipped | | 180
"""
MEASURES = {
    "sit_stand": {"load_share": [40, 60]},
    "stand_load": {"load_share": [45, None], "held_s": [10, None]},
    "short_steps": {"steps": [20, None]},
    "even_walk": {"step_ratio": [0.9, 1.1]},
    "stair_edge": {"foot_contact": [0, 50]},
}
NEEDS = {
    "lock": "lock_use",
    "free_swing": "free_swing_use",
    "yielding": "yield_load yield_slow ramp_down stair_edge stair_down kneel",
}
RUNGS = {
    "bars_both bars_one none": "sit_stand stand_load weight_shift hip_drive swing_release short_steps "
    "yield_load yield_slow",
    "bars_both bars_one stick none": "even_walk backwards kneel obstacle",
    "contralateral_rail ipsilateral_rail none": "ramp_down stair_up stair_down",
    "contralateral_rail stick none": "ramp_up",
    "contralateral_rail ipsilateral_rail": "stair_edge",
    "stick none": "turns kerb_uneven",
    "bars_one none": "carry floor_rise",
    "none": "don_check car",
    "bars_both bars_one contralateral_rail none": "lock_use",
    "bars_both none": "free_swing_use",
}
TAGS = {
    "seated": "don_check",
    "walking": "swing_release short_steps even_walk turns backwards obstacle carry kerb_uneven ramp_up ramp_down "
    "stair_up stair_edge stair_down",
    "ramp": "ramp_up ramp_down",
    "stairs": "stair_up stair_edge stair_down",
    "stairs_down": "stair_edge stair_down",
}
NO_WEIGHT = {"don_check", "free_swing_use"}
NO_BENDING = NO_WEIGHT | {"stand_load", "weight_shift", "hip_drive", "lock_use"}
CHECKS = {
    "start_of_session": ["skin", "fit", "footwear", "mode"],
    "lock_in": ["straight", "caught", "loaded"],
    "lock_out": ["released", "bends"],
    "free_swing_on": ["seated", "on"],
    "free_swing_off": ["off", "loaded"],
    "end_of_session": ["mode", "skin"],
}


def rows() -> list[list[str]]:
    return [[cell.strip() for cell in line.split("|")] for line in TABLE.strip().splitlines()]


def stage(text: str) -> dict[str, Any]:
    support, number, *more = text.split()
    days = next((int(word[:-1]) for word in more if re.fullmatch(r"\dd", word)), 1)
    help_ = "stand_by" if "stand_by" in more else "watching"
    return {"support": support, "in_a_row": int(number), "days": days, "help": help_}


def for_two(rung: str) -> str:
    return {"contralateral_rail": "both_rails", "ipsilateral_rail": "one_rail"}.get(rung, rung)


def stages_of(proven: dict[str, Any]) -> list[dict[str, Any]]:
    found = proven.get("stages") or [{k: v for k, v in proven.items() if k not in ("barred", "measures")}]
    return [{"days": 1, **one} for one in found]


@pytest.mark.parametrize("row", rows(), ids=lambda row: row[0])
def test_each_skill_is_as_the_table_says(row: list[str]) -> None:
    key, after, criterion, barred, falls_back_on, valid_days = row
    skill, proven = SKILLS[key], SKILLS[key]["proven"]
    assert skill.get("after", []) == after.split()
    assert stages_of(proven) == [stage(part) for part in criterion.split(",")]
    assert proven.get("barred", []) == barred.split()
    assert proven.get("measures", {}) == MEASURES.get(key, {})
    assert set(skill["falls_back_on"]) == {*falls_back_on.split(), *([] if key == "don_check" else ["knee"])}
    assert skill["valid_days"] == int(valid_days)
    assert skill.get("needs", []) == [feature for feature, keys in NEEDS.items() if key in keys.split()]
    assert skill["rungs"] == next(rungs.split() for rungs, keys in RUNGS.items() if key in keys.split())


def test_there_are_the_25_skills_in_the_table_s_order() -> None:
    assert list(SKILLS) == [row[0] for row in rows()]
    assert len(SKILLS) == 25


def test_tags_are_those_of_the_trade() -> None:
    for key, skill in SKILLS.items():
        expected = {tag for tag, keys in TAGS.items() if key in keys.split()}
        expected |= {"loads"} if key not in NO_WEIGHT else set()
        expected |= {"bends"} if key not in NO_BENDING else set()
        assert set(skill["tags"]) == expected, key


def test_two_prostheses_have_both_rails_for_the_contralateral_and_one_rail_for_the_ipsilateral() -> None:
    for key, skill in SKILLS.items():
        sided = {"contralateral_rail", "ipsilateral_rail"} & set(skill["rungs"])
        assert ("both" in skill) == bool(sided), key
        if not sided:
            continue
        rungs, proven = skill["both"]["rungs"], skill["both"]["proven"]
        expected = (
            ["both_rails", "one_rail", "stick", "none"] if key == "ramp_up" else [for_two(r) for r in skill["rungs"]]
        )
        assert rungs == expected, key
        assert [{**s, "support": for_two(s["support"])} for s in stages_of(skill["proven"])] == stages_of(proven), key
        for name in ("barred", "measures"):
            assert proven.get(name) == skill["proven"].get(name), key


def test_checks_have_their_steps_in_order_and_ask_about_one_knee_where_they_must() -> None:
    assert {check["key"]: check["steps"] for check in DOCUMENT["checks"]} == CHECKS
    one_knee = {check["key"] for check in DOCUMENT["checks"] if check.get("per_knee")}
    assert one_knee == {"lock_in", "lock_out", "free_swing_on", "free_swing_off"}


def test_every_barred_deviation_is_used_and_every_rule_says_what_it_must() -> None:
    barred = {word for skill in SKILLS.values() for word in skill["proven"].get("barred", [])}
    assert barred == {one["key"] for one in DOCUMENT["deviations"]}
    for rule in DOCUMENT["rules"]:
        assert rule["source"]
        assert rule["sentence"].endswith(".")
        assert rule["do_now"].endswith(".")
        assert any(word in rule["do_now"] for word in ("sit", "seated")), rule["key"]


def test_no_built_in_rule_is_written_twice() -> None:
    protocol = load_protocol(DOCUMENT)
    assert (protocol.key, protocol.version, len(protocol.rules)) == ("above_knee", 1, 13)
    assert not {rule["key"] for rule in DOCUMENT["rules"]} & set(BUILTIN_RULES)


def test_the_document_defers_to_local_policy_and_licensed_practice() -> None:
    for words in ("clinic's default", "local policy", "licensed practice"):
        assert words in DOCUMENT["note"]


@pytest.mark.slow
@pytest.mark.parametrize("seed", range(24))
def test_core_is_the_definition_on_random_entries_of_the_default_protocol(seed: int) -> None:
    """Mode events, checks and attempts at random, of either knee, with hours between them now and then."""
    random = Random(seed)
    letters = [*list(MODES.values()) * 2, *ATTEMPTS.values()]
    minutes, lines = 0, []
    side = "both" if seed % 2 else "left"
    features = ["lock", "free_swing", "yielding", "resistance"]
    opening = {"kind": "episode_opened", "side": side, "features": features, "protocol": "above_knee@1"}
    for number, fields in enumerate([opening, *random.choices(letters, k=40)]):
        minutes += random.choice([0, 1, 1, 5, 60, 120, 180])
        at = f"2026-03-{2 + minutes // 1440:02d}T{minutes // 60 % 24:02d}:{minutes % 60:02d}:00Z"
        entry = {"id": uuid(number), "episode": "E", "at": at, "by": "T", **fields}
        if fields["kind"] in ("mode_set", "mode_checked", "check", "setting_changed") and random.random() < 0.6:
            entry["knee"] = random.choice(["left", "right"])
        lines.append(entry)
    agree(DOCUMENT, lines, random.choice([None, "2026-03-04T12:00:00Z", "2026-04-01T00:00:00Z"]))


def test_the_definition_takes_the_document() -> None:
    assert len(definition.load(DOCUMENT)["rules"]) == 13
