"""checklists.domain against the contract written out word for word (tests/domain/definition.py)."""

from __future__ import annotations

from random import Random
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from tests.domain import definition
from tests.domain.core import core_replay
from tests.domain.random_histories import documents, histories, instants
from tests.domain.random_walks import Walk

CALM = [HealthCheck.too_slow, HealthCheck.data_too_large, HealthCheck.large_base_example]
SEEDS = st.integers(0, 2**32)


def comparable(lines: list[dict[str, Any]]) -> list[dict[str, Any]]:
    """Refusals by their field, repetitions left out; all else as it is."""
    found = []
    for line in lines:
        refused = [(one["entry"], one["error"].split(":")[0] if one["entry"] else None) for one in line["refused"]]
        once = [one for i, one in enumerate(refused) if one not in refused[:i]]
        found.append({**line, "refused": once})
    return found


def agree(document: dict[str, Any], lines: list[dict[str, Any]], at: str | None) -> None:
    assert comparable(core_replay(document, lines, at)) == comparable(definition.replay(document, lines, at))


@pytest.mark.slow
@settings(max_examples=120, deadline=None, suppress_health_check=CALM)
@given(st.data())
def test_core_is_the_definition_on_anything_at_all(data: st.DataObject) -> None:
    document = data.draw(documents())
    agree(document, data.draw(histories(document)), data.draw(st.none() | instants()))


@pytest.mark.slow
@settings(max_examples=30, deadline=None, suppress_health_check=CALM)
@given(documents(), SEEDS, st.none() | instants())
def test_core_is_the_definition_on_histories_that_get_somewhere(
    document: dict[str, Any], seed: int, at: str | None
) -> None:
    for more in range(5):
        agree(document, Walk(document, seed + more).history(), at)


@pytest.mark.slow
@settings(max_examples=60, deadline=None, suppress_health_check=CALM)
@given(documents(), SEEDS)
def test_order_and_repetition_of_arrival_do_not_matter(document: dict[str, Any], seed: int) -> None:
    lines = Walk(document, seed).history()
    random = Random(seed)
    shuffled = [*lines, *random.choices(lines, k=4)]
    random.shuffle(shuffled)
    for one, other in zip(core_replay(document, lines), core_replay(document, shuffled), strict=True):
        assert [one[name] for name in ("at", "alerts", "skills")] == [
            other[name] for name in ("at", "alerts", "skills")
        ]
