"""Formulas with bounds in time, judged by checklists.domain, by the definition, and by reelay: entry by entry.

Oracle: reelay 25.0.0 (past-time metric temporal logic, discrete time). Ours is pointwise over entries and theirs over
every tick, so a formula is translated: a tick without an entry has no `event`, and every operator steps over it. One
tick is one minute; entries lie on different minutes, since reelay cannot tell the order within one. reelay's `previous`
is `pre`; bounds are inclusive on both sides. A monitor takes 20 to 40 ms to build, so there are some hundred of them.
"""

from __future__ import annotations

import json
import subprocess
import sys
from datetime import UTC, datetime, timedelta
from pathlib import Path
from random import Random
from typing import Any

import pytest

from tests.conformance_set import shared_document
from tests.domain import definition
from tests.domain.core import core_replay

CHILD = Path(__file__).with_name("reelay_child.py")
START = datetime(2026, 3, 2, 9, 0, tzinfo=UTC)
KINDS = ["session_opened", "session_closed", "near_miss"]
BOUNDS = [1, 2, 3, 5, 8]  # minutes; reelay reads [0:0] as no bound at all, so 0 is left to the conformance set
Formula = dict[str, Any]


def random_formula(random: Random, depth: int) -> Formula:
    if depth == 0:
        return {"entry": {"kind": random.sample(KINDS, random.randint(1, 2))}}
    inner = [random_formula(random, random.randrange(depth)) for _ in range(2)]
    within = {"within": f"PT{random.choice(BOUNDS)}M"} if random.random() < 0.6 else {}
    choices: list[Formula] = [
        {"not": inner[0]},
        {"all": inner},
        {"any": inner},
        {"previous": inner[0]},
        {"once": inner[0], **within},
        {"historically": inner[0], **within},
        {"since": inner, **within},
        {"count": inner[0], "at_least": random.randint(1, 3)},
        {"count": inner[0], "at_most": random.randint(0, 2)},
        {"count": inner[0], "at_least": random.randint(1, 2), "after": inner[1]},
        {"count": inner[0], "at_least": 1, **within},
    ]
    return random.choice(choices)


def pattern(formula: Formula) -> str:
    """The same in reelay's notation, true at a tick with an entry where the formula is true at that entry."""
    if "entry" in formula:
        return "(" + " or ".join(f"{{{kind}}}" for kind in formula["entry"]["kind"]) + ")"
    if "not" in formula:
        return f"(not {pattern(formula['not'])})"
    if "all" in formula or "any" in formula:
        word = "and" if "all" in formula else "or"
        parts: list[Formula] = formula.get("all") or formula["any"]
        return "(" + f" {word} ".join(pattern(one) for one in parts) + ")"
    if "previous" in formula:
        return f"(pre(not {{event}} since ({{event}} and {pattern(formula['previous'])})))"
    bound = f"[0:{formula['within'][2:-1]}]" if "within" in formula else ""
    if "once" in formula:
        return f"(once{bound}({{event}} and {pattern(formula['once'])}))"
    if "historically" in formula:
        return f"(historically{bound}({{event}} -> {pattern(formula['historically'])}))"
    if "since" in formula:
        a, b = (pattern(one) for one in formula["since"])
        return f"(({{event}} -> {a}) since{bound} ({{event}} and {b}))"
    return counted(formula)


def counted(formula: Formula) -> str:
    """n before are one before, and n - 1 before that; strictly before is a tick ago or more."""
    one = f"({{event}} and {pattern(formula['count'])})"
    if "within" in formula:
        bound = int(formula["within"][2:-1])
        return f"(once[1:{bound}]{one})"
    wanted = formula["at_least"] if "at_least" in formula else formula["at_most"] + 1
    found = ""
    for _ in range(wanted):
        here = f"({one} and {found})" if found else one
        if "after" in formula:
            after = f"({{event}} and {pattern(formula['after'])})"
            found = f"(pre((not {after}) since ({here} and not {after})))"
        else:
            found = f"(pre(once{here}))"
    return found if "at_least" in formula else f"(not {found})"


def random_minutes(random: Random) -> list[tuple[int, str]]:
    """Entries as (minute, kind), on different minutes."""
    minute, found = 0, []
    for _ in range(random.randint(4, 25)):
        minute += random.choice([1, 1, 1, 2, 3, 5, 9])
        found.append((minute, random.choice(KINDS)))
    return found


def true_at(formula: Formula, minutes: list[tuple[int, str]], replay: Any) -> list[bool]:
    """Where a rule that always asks and requires the formula is not broken."""
    rule = {"key": "r", "sentence": "s", "severity": "minor", "do_now": "d", "when": {"all": []}, "require": formula}
    document = {**shared_document("small"), "rules": [rule]}
    lines = []
    for number, (minute, kind) in enumerate(minutes):
        at = (START + timedelta(minutes=minute)).strftime("%Y-%m-%dT%H:%M:%SZ")
        name = f"00000000-0000-4000-8000-{number:012d}"
        lines.append({"id": name, "episode": "E", "kind": kind, "at": at, "by": "T"})
    (report,) = replay(document, lines)
    broken = {alert["entry"] for alert in report["alerts"] if alert["rule"] == "r"}
    return [line["id"] not in broken for line in lines]


def ticks(minutes: list[tuple[int, str]]) -> list[dict[str, bool]]:
    kind_at = dict(minutes)
    return [
        {"event": tick in kind_at, **{kind: kind_at.get(tick) == kind for kind in KINDS}}
        for tick in range(minutes[-1][0] + 1)
    ]


def by_reelay(cases: list[tuple[Formula, list[tuple[int, str]]]]) -> list[list[bool]]:
    questions = [{"pattern": pattern(formula), "trace": ticks(minutes)} for formula, minutes in cases]
    done = subprocess.run(
        [sys.executable, str(CHILD)],
        input=json.dumps(questions),
        capture_output=True,
        text=True,
        timeout=100,
        check=False,
    )
    assert done.returncode == 0, f"reelay ended with {done.returncode}: {done.stderr}"
    answers = json.loads(done.stdout)
    return [[answer[minute] for minute, _ in minutes] for (_, minutes), answer in zip(cases, answers, strict=True)]


def random_cases(seed: int, number: int) -> list[tuple[Formula, list[tuple[int, str]]]]:
    random = Random(seed)
    return [(random_formula(random, random.randint(1, 4)), random_minutes(random)) for _ in range(number)]


@pytest.mark.slow
def test_reelay_the_definition_and_the_program_say_the_same_at_every_entry() -> None:
    cases = random_cases(seed=20260302, number=250)
    for (formula, minutes), expected in zip(cases, by_reelay(cases), strict=True):
        assert true_at(formula, minutes, definition.replay) == expected, (formula, minutes)
        assert true_at(formula, minutes, core_replay) == expected, (formula, minutes)


def test_the_bound_in_time_is_inclusive_in_both() -> None:
    """The comparison can fail: three minutes are within PT3M and not within PT2M."""
    minutes = [(1, "near_miss"), (4, "session_opened")]
    for bound, expected in [(3, [True, True]), (2, [True, False])]:
        formula = {"once": {"entry": {"kind": ["near_miss"]}}, "within": f"PT{bound}M"}
        assert by_reelay([(formula, minutes)]) == [expected]
        assert true_at(formula, minutes, core_replay) == expected


def test_every_operator_is_among_the_random_formulas() -> None:
    text = json.dumps([formula for formula, _ in random_cases(seed=20260302, number=250)])
    for operator in ["not", "all", "any", "previous", "once", "historically", "since", "count", "after", "within"]:
        assert text.count(f'"{operator}"') >= 20, operator
