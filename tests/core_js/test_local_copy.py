"""The tablet's copy of a record is a replay of all that it knows, however it came to know it."""

from __future__ import annotations

import json
import subprocess
from collections.abc import Iterator
from copy import deepcopy
from pathlib import Path
from random import Random
from typing import Any

import pytest
from hypothesis import Phase, given, settings

from tests.core_js.differing import differences
from tests.core_js.floor_questions import taken
from tests.core_js.node import NODE
from tests.domain.random_histories import documents
from tests.domain.random_walks import Walk
from tests.domain.test_definition import CALM, SEEDS

SCRIPT = Path(__file__).parent / "local_copy.mjs"


@pytest.fixture(scope="module")
def node() -> Iterator[subprocess.Popen[str]]:
    command = [NODE, str(SCRIPT)]
    with subprocess.Popen(
        command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True, encoding="utf-8"
    ) as process:
        yield process
        process.kill()


def asked(node: subprocess.Popen[str], **question: Any) -> Any:
    assert node.stdin is not None
    assert node.stdout is not None
    node.stdin.write(json.dumps(question) + "\n")
    node.stdin.flush()
    answer = json.loads(node.stdout.readline() or '{"failed": "the process has ended"}')
    assert "failed" not in answer, answer["failed"]
    return answer["said"]


def a_course(random: Random, many: int) -> list[tuple[str, list[int]]]:
    """What reaches a tablet: facts of the server's, in pieces and out of order; taps; their echoes; their refusals."""
    places = list(range(1, many))
    random.shuffle(places)
    steps: list[tuple[str, list[int]]] = []
    while places:
        piece = [places.pop() for _ in range(min(len(places), random.randint(1, 4)))]
        what = random.choice(["take", "bring"])
        steps.append((what, sorted(piece) if random.random() < 0.7 else piece))
        if what == "take" and random.random() < 0.5:
            steps.append((random.choice(["bring", "without"]), piece))
    return steps


@settings(max_examples=12, phases=[Phase.generate], deadline=None, suppress_health_check=CALM)
@given(documents(), SEEDS)
def test_step_by_step_is_the_same_as_at_once(node: subprocess.Popen[str], document: dict[str, Any], seed: int) -> None:
    random, document = Random(seed), deepcopy(document)
    facts = [dict(fact) for fact in taken(document, Walk(document, seed).history())]
    facts.sort(key=lambda fact: str(fact["kind"]) != "episode_opened")  # a tablet gets the opening first
    said = asked(
        node,
        document=json.dumps(document),
        reference=facts[0]["episode"],
        facts=facts,
        both=facts[0].get("side") == "both",
        steps=a_course(random, len(facts)),
    )
    # the order of what ties in time is that of arrival: facts are compared by id
    for state in (said["step_by_step"]["state"], said["at_once"]["state"]):
        state["facts"].sort(key=lambda fact: str(fact["entry"]["id"]))
    assert differences(said["at_once"], said["step_by_step"])[:5] == []
