"""What the Floor is told without signal is what the server would have told it: state, advice, next steps, checks."""

from __future__ import annotations

import json
from collections.abc import Iterator
from copy import deepcopy
from datetime import UTC, datetime, timedelta
from itertools import groupby
from random import Random
from typing import Any

import pytest
from hypothesis import given, settings

from checklists.person.first import BEFORE
from clinic import clock
from tests.conformance_set import DEFAULT_PROTOCOL, Case, all_cases
from tests.core_js.differing import differences
from tests.core_js.floor_questions import (
    History,
    Moment,
    Tablet,
    a_tablet,
    instant_of,
    later,
    names_for,
    of_the_server,
    taken,
)
from tests.domain.random_histories import HELP, documents, uuid
from tests.domain.random_walks import Walk
from tests.domain.test_definition import CALM, SEEDS

SOON, LATE = timedelta(seconds=61), timedelta(days=40)
FILES = [(stem, list(cases)) for stem, cases in groupby(all_cases(), key=lambda case: case.name.partition("/")[0])]
ZONES = ["Europe/London", "Asia/Kathmandu", "America/Santiago"]


@pytest.fixture(scope="module")
def tablet() -> Iterator[Tablet]:
    with a_tablet() as process:
        yield process


def compared(tablet: Tablet, history: History, moments: list[Moment]) -> int:
    """How many answers of advice were compared; fails where one differs."""
    wanted, found = of_the_server(history, moments), tablet.answers(history, moments)
    assert differences(wanted, found)[:5] == []
    return sum(len(helps) for one in wanted for rungs in one["advice"].values() for helps in rungs.values())


def of_case(case: Case) -> Iterator[History]:
    """The history of a case; of a long one also what stood after a third and after two thirds of it."""
    facts = taken(case.document, case.entries)
    parts = [len(facts)] if len(facts) < 20 else [len(facts) // 3, len(facts) * 2 // 3, len(facts)]
    for many in parts:
        if facts:
            yield History(case.document, facts[:many], names_for(facts))


def moments_of(history: History, number: int, *, whole: bool) -> list[Moment]:
    """Soon after it and much later. A share of it: one of the two, and advice on every fourth skill, in turns."""
    soon, late = later(history, SOON, LATE)
    if whole:
        return [Moment(soon), Moment(late, zone="America/Santiago", role="assistant")]
    first = number // 2 % 4
    if number % 2:
        return [Moment(soon, every=4, first=first)]
    return [Moment(late, zone="America/Santiago", role="assistant", every=4, first=first)]


@pytest.mark.timeout(3600)
@pytest.mark.parametrize(("stem", "cases"), FILES, ids=[stem for stem, _ in FILES])
def test_conformance_set(tablet: Tablet, histories: int, stem: str, cases: list[Case]) -> None:
    """Every case; everything of each where many comparisons are asked for (--histories 1000)."""
    asked = 0
    told = (history for case in cases if case.refusal is None for history in of_case(case))
    for number, history in enumerate(told):
        asked += compared(tablet, history, moments_of(history, number, whole=histories >= 1000))
    assert asked or stem.startswith("10_")  # a file of documents that are refused asks nothing


@settings(max_examples=20, deadline=None, suppress_health_check=CALM)
@given(documents(), SEEDS)
def test_random_histories(tablet: Tablet, document: dict[str, Any], seed: int) -> None:
    random, document = Random(seed), deepcopy(document)
    for number, skill in enumerate(document["skills"]):
        skill["title"] = ["Up $1 by T", "Down 2026-03-09", "Slow 2026-02-30 & back", "\U0001d4d0 by T"][number]
    facts = taken(document, Walk(document, seed).history())
    split = random.randint(1, len(facts))
    history = History(document, facts[:split], {"T": "$& Achterling"})
    attempt = {"id": uuid(901), "kind": "attempt", "skill": document["skills"][0]["key"], "help": HELP[0]}
    pending = [
        *facts[split:],
        {"id": uuid(900), "kind": "fall", "injury": "none", "at": later(history, SOON)[0].isoformat()},
        {**attempt, "at": later(history, 2 * SOON)[0].isoformat(), "support": "nowhere", "result": "safe"},
    ]
    moments = [
        Moment(
            later(history, SOON)[0], zone=random.choice(ZONES), role=random.choice([None, "therapist", "assistant"])
        ),
        Moment(later(history, timedelta(days=random.randint(1, 5)))[0], zone=random.choice(ZONES), pending=pending),
    ]
    assert compared(tablet, history, moments) > 0


def test_the_day_of_many_marks(tablet: Tablet) -> None:
    """A session with a start check, attempts, a strike-out and a session that closed, asked for within the day."""
    (course,) = [case for case in all_cases() if case.name.startswith("careful/")]
    facts = taken(course.document, course.entries)
    moments = [Moment(instant_of(fact) + SOON) for fact in facts[:: max(len(facts) // 6, 1)]]
    for moment in moments:
        until = [fact for fact in facts if instant_of(fact) <= moment.at]
        compared(tablet, History(course.document, until, names_for(facts)), [moment])


def test_the_comparison_sees_a_text_a_flag_and_a_list_that_differ() -> None:
    said = {"a": ["x", {"b": True}], "c": 1}
    assert differences(said, {"a": ["x", {"b": True}], "c": 1.0}) == []
    for other in ({"a": ["y", {"b": True}]}, {"a": ["x", {"b": 1}]}, {"a": ["x"]}, {"c": None}, {"d": 1}):
        assert len(differences(said, {**said, **other})) == 1


def test_the_lines_to_check_first_are_the_same(tablet: Tablet) -> None:
    assert tablet.ask("before") == BEFORE
    assert set(BEFORE) <= {rule["key"] for rule in json.loads(DEFAULT_PROTOCOL.read_bytes())["rules"]}


@pytest.mark.parametrize("zone", [*ZONES, "Asia/Beirut", "Africa/Cairo", "Pacific/Apia", "Pacific/Kiritimati"])
def test_a_day_begins_when_the_server_says(tablet: Tablet, zone: str) -> None:
    """Every eleven hours of a year in which some of these zones put their clocks forward or back at midnight."""
    start = datetime(2026, 1, 1, tzinfo=UTC)
    instants = [start + timedelta(hours=11 * number) for number in range(366 * 24 // 11)]
    wanted = [clock.day_starts(clock.local_day(at, zone), zone) for at in instants]
    found = tablet.ask("days", instants=[at.isoformat() for at in instants], zone=zone)
    assert [datetime.fromisoformat(one) for one in found] == wanted
