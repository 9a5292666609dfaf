"""Any order and repetition of arrival gives the same result (SEMANTICS.md §1, 'Order', 'Same id')."""

from __future__ import annotations

import json
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from checklists.domain import Episode, parse_entry, same_content
from checklists.domain.replay import replay_lines
from tests.domain.example import EPISODE, PROTOCOL, Story, uuid_of
from tests.domain.histories import Fact, histories

pytestmark = pytest.mark.slow


def _report(facts: list[Fact], at: str | None = None) -> dict[str, Any]:
    lines = [json.dumps(fact).encode() for fact in facts]
    bad: list[int] = []
    (report,) = replay_lines(PROTOCOL, lines, at, report_line=lambda number, why: bad.append(number))
    assert not bad
    refused = {(one["entry"], one["error"]) for one in report.pop("refused")}
    return {**report, "refused": refused}


@settings(max_examples=300, deadline=None)
@given(st.data(), histories())
def test_any_order_and_repetition_of_arrival_gives_the_same_report(data: st.DataObject, facts: list[Fact]) -> None:
    repeated = data.draw(st.lists(st.sampled_from(facts), max_size=4))
    again = data.draw(st.permutations(facts + repeated))
    assert _report(list(again)) == _report(facts)


@settings(max_examples=100, deadline=None)
@given(histories())
def test_a_late_fact_gives_what_a_replay_gives_when_it_was_there_from_the_start(facts: list[Fact]) -> None:
    entries = [parse_entry(fact, PROTOCOL) for fact in facts]
    whole = Episode.replay(PROTOCOL, entries, reference=EPISODE)
    late = Episode.replay(PROTOCOL, entries[1:] + entries[:1], reference=EPISODE)
    assert late.episode.snapshot() == whole.episode.snapshot()
    assert late.alerts == whole.alerts


def test_the_same_content_again_has_no_effect_whatever_the_role_and_the_spelling_of_numbers() -> None:
    story = Story()
    story.attempt("stand", "bars_both", measures={"held_s": 12})
    again = {**story.facts[-1], "role": "therapist", "seq": 0.0, "deviations": [], "measures": {"held_s": 12.0}}
    assert _report([*story.facts, again]) == _report(story.facts)


def test_other_content_under_one_id_is_refused_and_the_first_stays() -> None:
    story = Story()
    story.attempt("stand", "bars_both")
    report = _report([*story.facts, {**story.facts[-1], "result": "unsafe"}])
    assert [(entry, error.split(":")[0]) for entry, error in report["refused"]] == [(uuid_of(1), "id")]
    assert report["skills"] == _report(story.facts)["skills"]


def test_an_id_of_another_episode_is_refused_there() -> None:
    story = Story()
    elsewhere = {**story.facts[0], "episode": "QUAY-9"}
    lines = [json.dumps(fact).encode() for fact in (*story.facts, elsewhere)]
    first, second = replay_lines(PROTOCOL, lines, report_line=lambda number, why: None)
    assert first["refused"] == []
    assert [one["entry"] for one in second["refused"]] == [uuid_of(0), None]


def test_true_is_not_one_and_a_number_is_compared_by_value() -> None:
    story = Story()
    story.attempt("stand", "bars_both", measures={"held_s": 1})
    fact = story.facts[-1]
    assert same_content(fact, {**fact, "measures": {"held_s": 1.0}})
    assert not same_content(fact, {**fact, "measures": {"held_s": True}})
    assert not same_content(fact, {**fact, "at": fact["at"].replace("+00:00", "Z")})
