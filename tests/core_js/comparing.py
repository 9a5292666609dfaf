"""Comparing what was dealt: Python's answers beside those of one core in JavaScript, and counting what was compared."""

from __future__ import annotations

import json
from collections import Counter
from collections.abc import Callable, Iterable, Sequence
from itertools import islice
from typing import Any

from tests.core_js import reference
from tests.core_js.deck import Dealt
from tests.core_js.differing import differences

Core = Callable[[Sequence[dict[str, Any]]], Callable[[], list[dict[str, Any]]]]
BATCH = 25  # of them are worked on in JavaScript while Python works on the same


def compare(deck: Iterable[Dealt], core: Core) -> Counter[str]:
    """Fails at the first that differs and says how; else what was compared, in numbers."""
    counted: Counter[str] = Counter()
    rest = iter(deck)
    while batch := list(islice(rest, BATCH)):
        answers = core([one.asked() for one in batch])
        wanted = [reference.compared(one) for one in batch]
        for dealt, want, found in zip(batch, wanted, answers(), strict=True):
            assert "failed" not in found, (dealt.name, found["failed"])
            assert found == want or differences(want, found) == [], (dealt.name, differences(want, found)[:5])
            counted += _counts(dealt, want)
    return counted


def _counts(dealt: Dealt, answer: dict[str, Any]) -> Counter[str]:
    reports = [json.loads(line) for line in answer["out"].split("\n") if line]
    state = answer["state"]
    return Counter(
        {
            "documents and histories": 1,
            "refused documents": int(answer["status"] == 2),
            "lines": dealt.history.count(b"\n"),
            "lines of no episode": answer["said"].count("line ") if answer["status"] == 1 else 0,
            "reports": len(reports),
            "reports as of an instant": len(reports) if dealt.at else 0,
            "alerts": sum(len(one["alerts"]) for one in reports),
            "refused entries": sum(len(one["refused"]) for one in reports),
            "statuses": sum(len(one["skills"]) for one in reports),
            "states": int(state is not None),
            "steps": sum(one is not None for one in state["did"]) if state else 0,
            "advice": len(state["says"]["advice"]) if state else 0,
        }
    )
