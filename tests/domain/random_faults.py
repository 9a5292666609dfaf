"""Small random damage to documents and entries: a field dropped, added, renamed, or filled with something else."""

from __future__ import annotations

from copy import deepcopy
from random import Random
from typing import Any

JUNK: list[Any] = [
    None, True, False, 0, 1, -1, 1.5, 2.0, 28, "", "x", "none", "left", "safe", "locked", "knee", "lock", "stand",
    "walk", "start", "skin", "both_rails", "contralateral_rail", "bars_both", "toe_catch", "ratio", "loads", "alone",
    "attempt", "check", "struck_out", "critical", "open", "PT1H", "P1Y", "2026-03-02", "2026-03-02T09:00:00Z",
    "2026-02-30T09:00:00Z",
    "00000000-0000-4000-8000-000000000009", [], {}, ["none"], ["stand"], ["none", "none"], [1, 2], [2, 1], [None, None],
    {"x": 1}, {"skin": True}, {"ratio": [1, 2]}, {"entry": {}}, {"not": {"entry": {"kind": "check"}}}, [{"entry": {}}],
]  # fmt: skip  # a table, read by row
NAMES = [
    "x", "note", "source", "within", "skill", "support", "knee", "after", "both", "days", "help", "expect", "require",
    "at_least", "same_skill", "steps", "features", "outcome", "seq", "rail", "valid_days", "watch", "per_knee",
    "barred",
]  # fmt: skip  # a list of words


def places(value: Any, way: tuple[Any, ...] = ()) -> list[tuple[Any, ...]]:
    """Every place inside a JSON value."""
    inner = value.items() if isinstance(value, dict) else enumerate(value) if isinstance(value, list) else []
    return [found for key, one in inner for found in [(*way, key), *places(one, (*way, key))]]


def damaged(value: Any, random: Random) -> Any:
    """A copy with one thing changed."""
    value = deepcopy(value)
    *way, last = random.choice(places(value))
    holder = value
    for step in way:
        holder = holder[step]
    change = random.choice(["put", "put", "put", "drop", "add", "rename", "twice"])
    if change == "drop":
        del holder[last]
    elif change == "add" and isinstance(holder, dict):
        holder[random.choice(NAMES)] = deepcopy(random.choice(JUNK))
    elif change == "rename" and isinstance(holder, dict):
        holder[random.choice(NAMES)] = holder.pop(last)
    elif change == "twice" and isinstance(holder, list):
        holder.insert(random.randint(0, len(holder)), deepcopy(holder[last]))
    else:
        holder[last] = deepcopy(random.choice(JUNK))
    return value
