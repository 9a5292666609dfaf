"""Advice: what a planned attempt would break is what recording it then breaks; what is safe next; what comes first."""

from __future__ import annotations

import json
from datetime import UTC, datetime
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from checklists.domain import BUILTIN_RULES, EntryRefused, Episode, load_protocol, parse_entry
from tests.domain.example import DOCUMENT, EPISODE, PROTOCOL, Story, uuid_of
from tests.domain.histories import SKILLS, Fact, histories

LADDERS = {skill["key"]: skill["rungs"] for skill in DOCUMENT["skills"]}
# Which of them a fall holds back: the one that it names and what builds on it, or all that is not done seated.
HELD_BACK = {"stand": ("stand", "ramp"), "ramp": ("ramp",), None: ("stand", "yield", "ramp")}
AFTER = datetime(2026, 3, 19, 9, 0, tzinfo=UTC)
_PLANNED = st.one_of(
    [
        st.fixed_dictionaries(
            {
                "skill": st.just(skill["key"]),
                "support": st.sampled_from(skill["rungs"] + skill.get("both", {}).get("rungs", [])),
                "help": st.sampled_from(DOCUMENT["help"]),
                "measures": st.sampled_from([{}, {"step_ratio": 0.75}]),
            }
        )
        for skill in DOCUMENT["skills"]
    ]
    + [st.fixed_dictionaries({"kind": st.just("sign_off"), "skill": st.sampled_from(SKILLS)})]
)


@settings(max_examples=150, deadline=None)
@given(histories(), _PLANNED, st.sampled_from(["assistant", "therapist"]), st.sampled_from([0, 5, 20]))
def test_advice_says_exactly_what_recording_then_breaks(facts: list[Fact], planned: Fact, role: str, days: int) -> None:
    episode = Episode.replay(PROTOCOL, [parse_entry(fact, PROTOCOL) for fact in facts], reference=EPISODE).episode
    at = AFTER.replace(month=3 + (19 + days) // 32, day=(19 + days - 1) % 31 + 1)
    before = episode.snapshot()
    advice = episode.advise(planned, at=at, role=role)
    assert episode.snapshot() == before
    assert advice.allowed == (not advice.breaks)
    whole = {
        "kind": "attempt",
        **planned,
        "id": uuid_of(999),
        "episode": EPISODE,
        "at": at.isoformat(),
        "by": "tam",
        "role": role,
    }
    if whole["kind"] == "attempt":
        whole["result"] = "safe"
    alerts = episode.append(parse_entry(whole, PROTOCOL))
    assert [one.rule for one in advice.breaks] == [one.rule for one in alerts if one.entry == uuid_of(999)]


@settings(max_examples=80, deadline=None)
@given(histories())
def test_a_next_step_breaks_nothing_but_what_it_says_comes_first(facts: list[Fact]) -> None:
    episode = Episode.replay(PROTOCOL, [parse_entry(fact, PROTOCOL) for fact in facts], reference=EPISODE).episode
    for step in episode.next_steps(AFTER):
        planned = {"skill": step.skill, "support": step.support, "help": step.help}
        advice = episode.advise(planned, at=AFTER)
        assert advice.breaks == step.first
        assert BUILTIN_RULES.keys().isdisjoint(one.rule for one in advice.breaks)


def _advice(story: Story, role: str = "therapist", **planned: Any) -> dict[str, str]:
    advice = story.episode().advise({"help": "stand_by", **planned}, at=story.at, role=role)
    return {one.rule: one.do_first for one in advice.breaks}


def test_a_rule_of_the_document_says_its_own_do_now() -> None:
    assert _advice(Story(), skill="don", support="none") == {"start": "do start now"}


def test_built_in_rules_say_what_to_do_first_by_name() -> None:
    story = Story()
    story.start()
    assert _advice(story, skill="stand", support="none", help="alone") == {
        "prerequisite": "Sign off first: putting on. Until then only in the bars with somebody at hand.",
        "support_step": "Make a safe attempt with both hands on the bars first.",
        "alone": BUILTIN_RULES["alone"].do_first,
    }


def test_an_assistant_is_told_what_only_an_assistant_may_not() -> None:
    story = Story()
    story.start()
    assert _advice(story, "assistant", skill="don", support="none") == {"newcomer": "do newcomer now"}
    assert _advice(story, "therapist", skill="don", support="none") == {}


def test_a_planned_setting_of_a_mode_is_advised_on_too() -> None:
    story = Story()
    story.add("mode_checked", mode="walking", ok=True)
    story.add("mode_set", mode="locked")
    advice = story.episode().advise({"kind": "mode_set", "mode": "locked"}, at=story.at)
    assert [one.rule for one in advice.breaks] == ["twice"]
    assert story.episode().advise({"kind": "mode_set", "mode": "walking"}, at=story.at).allowed


def test_a_planned_attempt_with_a_wrong_word_is_refused() -> None:
    with pytest.raises(EntryRefused, match=r"^support: "):
        Story().episode().advise({"skill": "don", "support": "stick", "help": "watching"}, at=AFTER)


def test_the_next_steps_climb_from_the_rung_that_is_allowed() -> None:
    story = Story()
    story.start()
    steps = story.episode().next_steps(story.at)
    assert [(one.skill, one.support) for one in steps] == [("don", "none"), ("yield", "bars_both")]
    assert steps[0].why == "0 of 2 safe attempts in a row, on 2 days (without support)."


def test_a_blocked_skill_climbs_in_the_bars_too() -> None:
    story = Story()
    story.start()
    story.attempt("don", "none")
    for support in ("bars_both", "bars_one", "bars_one"):
        told = {one.skill: (one.support, one.help) for one in story.episode().next_steps(story.at)}
        assert told["stand"] == (support, "stand_by")
        story.attempt("stand", support)


def test_what_comes_first_is_said_once_for_all_skills() -> None:
    story = Story()
    story.add("fall", injury="none")
    story.add("mode_set", mode="locked")
    assert [one.key for one in story.episode().check_first(story.at)] == ["fall_review", "locked", "start"]


def test_an_open_fall_says_what_it_holds_back_how_far_and_until_when() -> None:
    """What is not named may be tried, and advice says so: the line must not be read as of every skill. What it says of
    the bars is what the rule does."""

    def told(*, named: str | None, reviewed: bool, both: bool = False) -> str:
        story = Story(side="both" if both else "left")
        story.start()
        about: dict[str, Any] = {"skill": named} if named else {}
        fall = story.add("fall", injury="none", **about)
        if reviewed:
            story.add("review", of=[fall], outcome="not_cleared")
        for skill, ladder in LADDERS.items() if not both else ():
            tried = {"kind": "attempt", "skill": skill, "support": ladder[0], "help": "stand_by", "result": "safe"}
            breaks = [one for one in story.episode().advise(tried, at=story.at).breaks if one.rule == "fall_review"]
            held, bars = skill in HELD_BACK[named], ladder[0].startswith("bars")
            assert bool(breaks) == (held and (reviewed or not bars)), (named, skill)
            assert ["in the bars" in one.do_first for one in breaks] == [bars for _one in breaks]
        return story.episode().check_first(story.at)[0].sentence.partition(". ")[2]

    rest, other = "{} and all that builds on it.", " Other skills are not held back by it."
    every, some = "every skill that is not done seated.", " What is not done in the bars is not tried until then."
    bars = "Only in the bars with somebody at hand until it is reviewed: "
    never = "Not tried until a later review clears it: "
    standing, ramp = rest.format("standing"), rest.format("walking down a slope")
    assert told(named="stand", reviewed=False) == bars + standing + some + other
    assert told(named=None, reviewed=False) == bars + every + some
    assert told(named="ramp", reviewed=False) == "Not tried until it is reviewed: " + ramp + other
    assert told(named="ramp", reviewed=False, both=True) == "Not tried until it is reviewed: " + ramp + other
    assert told(named="stand", reviewed=True) == never + standing + other
    assert told(named=None, reviewed=True) == never + every
    assert told(named="ramp", reviewed=True) == never + ramp + other


def test_where_no_skill_is_without_the_bars_the_line_of_a_fall_names_them_alone() -> None:
    skills = [one | ({"after": ["yield"]} if one["key"] == "ramp" else {}) for one in DOCUMENT["skills"]]
    story = Story()
    story.add("fall", injury="none", skill="stand")
    protocol = load_protocol(json.dumps(DOCUMENT | {"skills": skills}))
    entries = [parse_entry(fact, protocol) for fact in story.facts]
    said = Episode.replay(protocol, entries, reference=EPISODE).episode.check_first(story.at)[0].sentence
    assert "Only in the bars with somebody at hand until it is reviewed: standing" in said
    assert "What is not done in the bars" not in said


def test_what_has_no_support_in_the_bars_is_not_led_there_by_what_it_waits_for() -> None:
    """The document's own prerequisite: in the bars it is learnt meanwhile, without them it waits."""
    story = Story()
    story.start()
    found: dict[str, str] = {}
    for skill, ladder in LADDERS.items():
        tried = {"kind": "attempt", "skill": skill, "support": ladder[-1], "help": "alone", "result": "safe"}
        breaks = story.episode().advise(tried, at=story.at).breaks
        found.update((skill, one.do_first) for one in breaks if one.rule == "prerequisite")
    assert {skill: "in the bars" in told for skill, told in found.items()} == {
        "stand": True,
        "ramp": False,
    }


def test_after_a_long_break_the_bars_come_first() -> None:
    story = Story()
    story.start()
    story.attempt("stand", "bars_both")
    story.start(days=11)
    keys = {one.key: one.sentence for one in story.episode().check_first(story.at)}
    assert keys == {
        "gap": "More than 10 days since the last attempt. Make the first attempt after the break in the bars."
        " What is not signed off, or no longer current, begins anew."
    }


def test_every_built_in_rule_can_be_shown_on_a_page() -> None:
    for rule in BUILTIN_RULES.values():
        assert rule.severity in ("critical", "major")
        assert rule.source == "common practice, no source"
        assert all(text.endswith(".") for text in (rule.sentence, rule.do_now, rule.do_first))


def test_while_a_fall_waits_what_is_done_in_the_bars_climbs_there_and_then_says_what_it_waits_for() -> None:
    """What was safe with somebody at hand is not asked for once more; no further than the rule lets it."""
    story = Story()
    story.start()
    story.add("sign_off", skill="don")
    for skill in ("stand", "yield"):
        story.attempt(skill, "bars_both")
    story.add("fall", injury="none", skill="stand")
    story.add("fall", injury="none", skill="yield")

    def told(skill: str) -> tuple[str, str, str]:
        (step,) = [one for one in story.episode().next_steps(story.at) if one.skill == skill]
        story.attempt(skill, step.support, step.help)
        return step.support, step.help, step.why.partition(". ")[0]

    both, one = (
        "A safe attempt with both hands on the bars comes first",
        "0 of 2 safe attempts in a row (with one hand on the bars).",
    )
    assert [told("stand"), told("stand")] == [("bars_both", "stand_by", both), ("bars_one", "stand_by", one)]
    assert told("yield") == ("bars_both", "stand_by", "0 of 1 safe attempts in a row (with both hands on the bars).")


def test_what_was_safe_in_the_bars_and_goes_no_further_for_an_open_fall_says_so() -> None:
    further = {"proven": {"support": "none", "in_a_row": 1}}
    skills = [one | (further if one["key"] == "yield" else {}) for one in DOCUMENT["skills"]]
    protocol = load_protocol(json.dumps(DOCUMENT | {"skills": skills}))
    story = Story()
    story.start()
    story.add("fall", injury="none", skill="yield")
    found = []
    for _again in range(2):
        entries = [parse_entry(fact, protocol) for fact in story.facts]
        steps = Episode.replay(protocol, entries, reference=EPISODE).episode.next_steps(story.at)
        (step,) = [one for one in steps if one.skill == "yield"]
        found.append((step.support, step.help, step.why.partition(". ")[0]))
        story.attempt("yield", step.support, step.help)
    both = "A safe attempt with both hands on the bars comes first"
    waits = "Have the fall reviewed and cleared first; until it is looked at, only in the bars with somebody at hand"
    assert found == [("bars_both", "stand_by", both), ("bars_both", "stand_by", waits)]
