"""A step equals a fresh replay bit for bit, after every entry and across every snapshot (SEMANTICS.md §6)."""

from __future__ import annotations

import sys

import pytest
from hypothesis import given, settings

from checklists.domain import Alert, Deadline, Entry, Episode, StaleSnapshot, instant, load_protocol, parse_entry
from checklists.domain.record import arrange
from tests.domain.example import EPISODE, PROTOCOL, Story, document, uuid_of
from tests.domain.histories import Fact, histories

pytestmark = pytest.mark.slow


def _in_order(facts: list[Fact]) -> list[Entry]:
    record = arrange([parse_entry(fact, PROTOCOL) for fact in facts], EPISODE)
    return [*([record.opening] if record.opening else []), *record.entries]


def _alert(deadline: Deadline) -> Alert:
    return Alert(deadline.rule, deadline.entry, deadline.at, deadline.severity)


@settings(max_examples=150, deadline=None)
@given(histories(strikes=False))
def test_every_step_equals_a_fresh_replay_and_survives_a_snapshot(facts: list[Fact]) -> None:
    episode, alerts, taken = Episode(PROTOCOL, EPISODE), set(), []
    for entry in _in_order(facts):
        assert episode.takes(entry)
        alerts.update(episode.append(entry))
        taken.append(entry)
        fresh = Episode.replay(PROTOCOL, taken, reference=EPISODE)
        assert episode.snapshot() == fresh.episode.snapshot()
        assert fresh.at is not None
        until = instant.read(fresh.at)[0]
        passed = {_alert(one) for one in episode.deadlines() if one.due_us < until}
        assert alerts | passed == set(fresh.alerts)
        episode = Episode.restore(PROTOCOL, episode.snapshot())
        assert episode.snapshot() == fresh.episode.snapshot()


def _many(count: int) -> Story:
    story = Story()
    for number in range(count):
        if number % 10 == 0:
            story.start(days=1)
        story.attempt(("stand", "yield")[number % 2], "bars_both", measures={"held_s": 12, "step_ratio": 0.75})
    return story


def _calls_of_a_step(count: int) -> int:
    """How many functions are called from snapshot to snapshot for one more entry: a measure that no load disturbs."""
    story = _many(count)
    snapshot = story.episode().snapshot()
    story.attempt("stand", "bars_both", measures={"held_s": 12, "step_ratio": 0.75})
    entry = story.entries[-1]
    called: list[str] = []
    sys.setprofile(lambda frame, event, argument: called.append(event) if event in ("call", "c_call") else None)
    try:
        episode = Episode.restore(PROTOCOL, snapshot)
        episode.append(entry)
        episode.snapshot()
    finally:
        sys.setprofile(None)
    return len(called)


def test_a_step_costs_the_same_after_many_entries_as_after_few() -> None:
    _calls_of_a_step(30)  # what is worked out once for a protocol is worked out here
    assert _calls_of_a_step(30) == _calls_of_a_step(3_000)


def test_a_snapshot_is_small_and_does_not_grow_with_the_record() -> None:
    short, long = _many(60).episode().snapshot(), _many(3_000).episode().snapshot()
    assert len(long) <= len(short) + 200 < 4_000


@pytest.mark.parametrize(
    ("change", "taken"),
    [
        ({}, True),
        ({"minutes": -0.5}, False),
        ({"kind": "struck_out", "entry": uuid_of(1), "reason": "wrong"}, False),
        ({"kind": "episode_opened", "side": "left", "features": [], "protocol": "example@3"}, False),
    ],
)
def test_it_takes_what_comes_next_and_nothing_that_needs_a_replay(change: Fact, taken: bool) -> None:
    story = Story()
    story.attempt("stand", "bars_both")
    episode = story.episode()
    more = {"kind": "session_closed", **change}
    story.add(more.pop("kind"), **more)
    assert episode.takes(story.entries[-1]) is taken


def test_an_entry_whose_strike_out_waits_for_it_needs_a_replay() -> None:
    story = Story()
    story.add("struck_out", entry=uuid_of(2), reason="on the wrong person")
    episode = story.episode()
    story.attempt("stand", "bars_both")
    assert not episode.takes(story.entries[-1])
    assert story.episode().status_words()["stand"] == "blocked"


def test_a_met_deadline_is_said_so_that_its_alert_can_be_withdrawn() -> None:
    story = Story()
    locked = story.add("mode_set", mode="locked")
    episode = story.episode()
    assert [(one.rule, one.entry) for one in episode.deadlines()] == [("unlocked", locked)]
    story.start()
    assert episode.append(story.entries[-1]) == []
    assert (episode.met, episode.deadlines()) == ([("unlocked", locked)], [])


def test_a_missed_deadline_is_broken_by_the_next_entry_after_it() -> None:
    story = Story()
    locked = story.add("mode_set", mode="locked")
    episode = story.episode()
    story.start(minutes=181)
    assert [(alert.rule, alert.entry) for alert in episode.append(story.entries[-1])] == [("unlocked", locked)]


def test_a_snapshot_of_another_protocol_is_not_taken_up() -> None:
    other = load_protocol(document(version=4))
    with pytest.raises(StaleSnapshot):
        Episode.restore(other, Story().episode().snapshot())


def test_an_entry_read_under_another_protocol_is_not_taken() -> None:
    story = Story()
    other = load_protocol(document(version=4))
    with pytest.raises(ValueError, match="another protocol"):
        Episode(PROTOCOL, EPISODE).append(parse_entry(story.facts[0], other))
