"""What stands beside the record changes nothing that follows from it (SEMANTICS.md §8)."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from checklists.domain import EntryRefused, Episode, parse_entry
from tests.domain.core import core_replay
from tests.domain.example import DOCUMENT, EPISODE, PROTOCOL, uuid_of
from tests.domain.histories import INSTANTS, Fact, histories

pytestmark = pytest.mark.slow
LATEST = "2031-05-01T09:00:00Z"


@st.composite
def corrections(draw: st.DrawFn) -> list[Fact]:
    """Requests about anything and answers to any of them, at any time."""
    facts: list[Fact] = []
    for number in range(900, 900 + draw(st.integers(1, 5))):
        common = {"id": uuid_of(number), "episode": EPISODE, "by": "tam", "role": "therapist"}
        common["at"] = draw(st.sampled_from([*INSTANTS, LATEST]))
        named = draw(st.sampled_from([*range(6), 900, 901]).map(uuid_of))
        if draw(st.booleans()):
            facts.append({**common, "kind": "correction_requested", "entry": named, "text": "t", "asked_by": "p"})
        else:
            answer = {"request": named, "answer": "agreed", "struck": [uuid_of(1)], "added": [uuid_of(2)]}
            facts.append({**common, "kind": "correction_answered", **answer})
    return facts


@settings(max_examples=150, deadline=None)
@given(histories(), corrections(), st.randoms(use_true_random=False))
def test_the_report_is_the_same_with_them_as_without(facts: list[Fact], more: list[Fact], chance: object) -> None:
    mixed = [*facts, *more]
    chance.shuffle(mixed)  # type: ignore[attr-defined]  # hypothesis gives a Random
    (with_them,) = core_replay(DOCUMENT, mixed, None)
    plain = [fact for fact in mixed if fact not in more]
    (without,) = core_replay(DOCUMENT, plain, None)
    assert with_them == without


@settings(max_examples=100, deadline=None)
@given(histories(strikes=False), corrections())
def test_a_step_past_one_leaves_the_snapshot_as_it_was(facts: list[Fact], more: list[Fact]) -> None:
    episode = Episode.replay(PROTOCOL, [parse_entry(fact, PROTOCOL) for fact in facts], reference=EPISODE).episode
    before = episode.snapshot()
    for fact in more:
        entry = parse_entry(fact, PROTOCOL)
        assert episode.takes(entry)
        assert episode.append(entry) == []
    assert episode.snapshot() == before
    assert Episode.restore(PROTOCOL, before).snapshot() == before


def test_one_whose_strike_out_came_first_needs_a_replay_like_any_other() -> None:
    common = {"episode": EPISODE, "by": "tam", "at": LATEST}
    strike = {**common, "id": uuid_of(1), "kind": "struck_out", "entry": uuid_of(2), "reason": "wrong person"}
    asked = {**common, "id": uuid_of(2), "kind": "correction_requested", "text": "t", "asked_by": "p"}
    episode = Episode.replay(PROTOCOL, [parse_entry(strike, PROTOCOL)], reference=EPISODE).episode
    assert not episode.takes(parse_entry(asked, PROTOCOL))


def test_nothing_is_advised_against_writing_down_what_somebody_says() -> None:
    planned = {"kind": "correction_requested", "text": "t", "asked_by": "p"}
    assert Episode(PROTOCOL, EPISODE).advise(planned, at=LATEST).allowed
    with pytest.raises(EntryRefused, match=r"^asked_by: "):
        Episode(PROTOCOL, EPISODE).advise({"kind": "correction_requested", "text": "t"}, at=LATEST)
