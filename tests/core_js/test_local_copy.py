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

from checklists.record.protocols import CURRENT_KEY, FOLDER
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


def a_course(random: Random, begin: int, many: int) -> list[tuple[str, list[int]]]:
    """What reaches a tablet: facts of the server's, in pieces and out of order; taps; their echoes; their refusals."""
    places = list(range(begin, many))
    random.shuffle(places)
    steps: list[tuple[str, list[int]]] = []
    while places:
        piece = [places.pop() for _ in range(min(len(places), random.randint(1, 4)))]
        what = random.choice(["take", "take", "bring", "bring with a snapshot"])
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
    begin = random.randint(1, len(facts))
    said = asked(
        node,
        document=json.dumps(document),
        reference=facts[0]["episode"],
        facts=facts,
        both=facts[0].get("side") == "both",
        begin=begin,
        steps=a_course(random, begin, len(facts)),
    )
    others = ("step_by_step", "from_a_snapshot", "opened_again")
    # the order of what ties in time is that of arrival: facts are compared by id
    for state in (said[name]["state"] for name in ("at_once", *others)):
        state["facts"].sort(key=lambda fact: str(fact["entry"]["id"]))
    for other in others:
        assert differences(said["at_once"], said[other])[:5] == [], other
    assert said["judged"][0] == said["judged"][1], "a copy that began with a snapshot said something else of a fact"


def a_fact(number: int, kind: str, at: str, **fields: Any) -> dict[str, Any]:
    fact = {"id": f"00000000-0000-4000-8000-{number:012d}", "episode": "E", "kind": kind, "at": at, "by": "S-me"}
    return {**fact, "role": "therapist", **fields}


def test_a_copy_that_began_with_a_snapshot_says_what_is_said_of_the_whole(node: subprocess.Popen[str]) -> None:
    """Of the struck danger that came after the snapshot, and nothing of the deadline that it showed as missed."""
    tried = {"skill": "stand_load", "support": "bars_both", "help": "watching"}
    facts = [
        a_fact(0, "episode_opened", "2026-03-02T09:00:00Z", side="left", features=[], protocol="above_knee@1"),
        a_fact(1, "fall", "2026-03-02T10:00:00Z", injury="none"),
        a_fact(2, "attempt", "2026-03-02T10:05:00Z", result="safe", **tried),
        a_fact(3, "struck_out", "2026-03-12T10:00:00Z", entry=f"00000000-0000-4000-8000-{2:012d}", reason="r"),
        a_fact(4, "attempt", "2026-03-12T10:01:00Z", result="unsafe", **tried),
        a_fact(5, "struck_out", "2026-03-12T10:02:00Z", entry=f"00000000-0000-4000-8000-{4:012d}", reason="r"),
        a_fact(6, "attempt", "2026-03-01T10:00:00Z", result="unsafe", **tried),
    ]
    document = (FOLDER / f"{CURRENT_KEY}.json").read_text(encoding="utf-8")
    steps = [("take", [place]) for place in range(4, len(facts))]
    said = asked(node, document=document, reference="E", facts=facts, both=False, begin=4, steps=steps)
    whole, quick = ([{alert[0] for alert in alerts} for alerts in judged] for judged in said["judged"])
    assert said["many"] == len(facts), "one of them was not taken"
    assert quick == whole
    assert "fall_unreviewed" not in whole[0], whole
    assert "struck_danger" in whole[1], whole
    assert said["from_a_snapshot"] == said["step_by_step"]
