"""Damaged documents and entries: checklists.domain refuses what the definition refuses, and takes what it takes."""

from __future__ import annotations

from random import Random
from typing import Any

import pytest

from tests.conformance_set import all_cases, shared_document
from tests.domain import definition
from tests.domain.core import core_refusal, core_replay
from tests.domain.random_faults import damaged

pytestmark = pytest.mark.slow

# The small document with rules of every operator, as the conformance cases have them.
RULES = [
    rule
    for case in all_cases()
    if case.name.startswith(("05_", "06_", "09_")) and isinstance(case.document, dict)
    for rule in case.document["rules"]
]
SMALL = shared_document("small")
ENTRIES = [entry for case in all_cases() if case.name.startswith(("04_", "08_")) for entry in case.entries]


def refused(entry: Any, replay: Any) -> bool:
    """Whether an entry is refused by itself. Alone in its episode it is: then the opening is missing as well."""
    (report,) = replay(SMALL, [{**entry, "episode": "E"}])
    return len(report["refused"]) == 2


GOOD = [entry for entry in ENTRIES if not refused(entry, definition.replay)]


def definition_refusal(document: Any) -> str | None:
    try:
        definition.load(document)
    except definition.DocumentRefused as refused:
        return str(refused)
    return None


@pytest.mark.parametrize("seed", range(40))
def test_a_damaged_document_is_refused_by_both_or_by_none(seed: int) -> None:
    random = Random(seed)
    for _ in range(25):
        rules = [{**rule, "key": f"r{n}"} for n, rule in enumerate(random.sample(RULES, 3))]
        document = damaged({**SMALL, "rules": rules}, random)
        ours, theirs = core_refusal(document), definition_refusal(document)
        assert (ours is None) == (theirs is None), (ours, theirs, document)


@pytest.mark.parametrize("seed", range(40))
def test_a_damaged_entry_is_refused_by_both_or_by_none(seed: int) -> None:
    random = Random(seed)
    for _ in range(50):
        entry = damaged(random.choice(GOOD), random)
        assert refused(entry, core_replay) == refused(entry, definition.replay), entry


def test_a_good_part_of_the_damage_is_refused_and_a_good_part_is_not() -> None:
    random = Random(7)
    refusals = [definition_refusal(damaged(SMALL, random)) for _ in range(300)]
    assert 40 <= refusals.count(None) <= 260
