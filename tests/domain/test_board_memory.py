"""The memory of the board row is never wrong: with it a row is what it is without it (SEMANTICS.md §5)."""

from __future__ import annotations

from datetime import timedelta, timezone
from typing import Any

import orjson
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from checklists.domain import Episode, instant, load_protocol, parse_entry
from checklists.record import board
from tests.domain.example import EPISODE, PROTOCOL
from tests.domain.histories import Fact
from tests.domain.histories import histories as of_the_example
from tests.domain.random_histories import documents, histories

pytestmark = pytest.mark.slow

AFTER = [
    timedelta(0),
    timedelta(minutes=1),
    timedelta(hours=9),
    timedelta(days=2),
    timedelta(days=40),
    timedelta(days=400),
]
ZONES = [timezone(timedelta(0)), timezone(timedelta(hours=11)), timezone(timedelta(hours=-8))]


def rows(protocol: Any, facts: list[Fact], zone: timezone) -> list[tuple[bytes, bytes]]:
    """The board rows of each beginning of a history, now and later: out of a memory that is used all the time, and
    out of an empty one."""
    found = []
    entries = [parse_entry(fact, protocol) for fact in facts]
    for count in range(len(entries) + 1):
        replayed = Episode.replay(protocol, entries[:count], reference=EPISODE)
        if replayed.at is None:
            continue
        episode = Episode.restore(protocol, replayed.episode.snapshot())
        for later in AFTER:
            at = instant.at_microseconds(instant.read(replayed.at)[0]).astimezone(zone) + later
            remembered = board.of(episode, at).body
            kept = dict(board._known)
            board._known.clear()
            found.append((remembered, board.of(episode, at).body))
            board._known.update(kept)
    return found


@settings(max_examples=60, deadline=None)
@given(of_the_example(), st.sampled_from(ZONES))
def test_out_of_memory_a_row_is_what_it_is_without(facts: list[Fact], zone: timezone) -> None:
    for remembered, fresh in rows(PROTOCOL, facts, zone):
        assert remembered == fresh


@settings(max_examples=60, deadline=None)
@given(st.data(), st.sampled_from(ZONES))
def test_whatever_the_document_is(data: st.DataObject, zone: timezone) -> None:
    document = data.draw(documents())
    protocol = load_protocol(document)
    for remembered, fresh in rows(
        protocol, [{**one, "episode": EPISODE} for one in data.draw(histories(document))], zone
    ):
        assert remembered == fresh


@settings(max_examples=60, deadline=None)
@given(of_the_example())
def test_a_row_says_what_the_core_says(facts: list[Fact]) -> None:
    """Not only the same as before, but the same as every skill asked by itself."""
    replayed = Episode.replay(PROTOCOL, [parse_entry(fact, PROTOCOL) for fact in facts], reference=EPISODE)
    if replayed.at is None:
        return
    at = instant.at_microseconds(instant.read(replayed.at)[0]) + timedelta(days=1)
    said = orjson.loads(board.of(replayed.episode, at).body)["skills"]
    statuses = replayed.episode.statuses(at)
    assert said == orjson.loads(orjson.dumps({key: one._asdict() for key, one in statuses.items()}))


@settings(max_examples=80, deadline=None)
@given(of_the_example(), st.sampled_from(ZONES))
def test_nothing_changes_before_the_row_says_that_it_grows_stale(facts: list[Fact], zone: timezone) -> None:
    """`stale_at` is the first instant at which time alone changes what the row says; until the microsecond before it
    holds."""
    replayed = Episode.replay(PROTOCOL, [parse_entry(fact, PROTOCOL) for fact in facts], reference=EPISODE)
    if replayed.at is None:
        return
    at = instant.at_microseconds(instant.read(replayed.at)[0]).astimezone(zone)
    for _ in range(4):
        shown = board.of(replayed.episode, at)
        if shown.stale_at is None:
            return
        assert shown.stale_at > at
        for moment in (at + (shown.stale_at - at) / 2, shown.stale_at - timedelta(microseconds=1)):
            again = board.of(replayed.episode, moment.astimezone(zone))
            assert _without_instant(again.body) == _without_instant(shown.body)
        at = shown.stale_at.astimezone(zone)


def _without_instant(body: bytes) -> dict[str, Any]:
    row: dict[str, Any] = orjson.loads(body)
    del row["as_of"]
    return row
