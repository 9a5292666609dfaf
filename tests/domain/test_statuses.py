"""Statuses and their reasons in plain words, step by step (SEMANTICS.md §5)."""

from __future__ import annotations

from datetime import timedelta

import pytest

from checklists.domain import SkillStatus
from tests.domain.example import PROTOCOL, Story

_GOOD = {"held_s": 12}


def _status(story: Story, skill: str, *, days: float = 0) -> SkillStatus:
    return story.episode().statuses(story.at + timedelta(days=days))[skill]


def _don_signed() -> Story:
    story = Story()
    story.start()
    story.attempt("don", "none")
    story.attempt("don", "none", days=1)
    story.add("sign_off", skill="don")
    story.start()
    return story


def _stand_proven() -> Story:
    story = _don_signed()
    for support in ("bars_both", "bars_one", "bars_one"):
        story.attempt("stand", support, measures=_GOOD)
    return story


def test_a_skill_never_tried_is_open_and_one_with_a_missing_prerequisite_is_blocked_by_its_title() -> None:
    statuses = Story().episode().statuses(Story().at)
    assert (statuses["don"].status, statuses["stand"].status) == ("open", "blocked")
    assert statuses["stand"].reasons[0] == "Not yet signed off, or no longer current: putting on."
    assert (statuses["stand"].missing, statuses["ramp"].missing) == (("don",), ("don", "stand", "yield"))


def test_training_says_how_many_attempts_and_days_are_needed() -> None:
    story = Story()
    story.attempt("don", "none")
    don = _status(story, "don")
    assert don.status == "training"
    assert don.reasons == ("1 of 2 safe attempts in a row; one more day needed (without support).",)
    assert (don.run, don.in_a_row, don.days, don.days_needed, don.stage, don.stages) == (1, 2, 1, 2, 0, 1)


def test_more_attempts_than_asked_for_on_too_few_days_are_not_three_of_two() -> None:
    story = Story()
    for _ in range(3):
        story.attempt("don", "none")
    don = _status(story, "don")
    assert don.reasons == ("2 of 2 safe attempts in a row; one more day needed (without support).",)
    assert don.run == 3


def test_ready_says_that_it_may_be_signed_and_signed_off_by_whom_and_until_when() -> None:
    story = _stand_proven()
    assert (_status(story, "stand").status, _status(story, "stand").reasons) == ("ready", ("Proven: may be signed.",))
    story.add("sign_off", skill="stand")
    stand = _status(story, "stand")
    assert stand.reasons == ("Signed off on 3 Mar 2026 by runa; valid until 2 Apr 2026.",)
    assert (stand.signed_by, stand.signed_at, stand.run) == ("runa", story.at.isoformat(), 0)


def test_a_sign_off_lapses_at_the_very_instant_and_not_before() -> None:
    story = _stand_proven()
    story.add("sign_off", skill="stand")
    assert _status(story, "stand", days=30 - 1 / 86_400).status == "signed_off"
    lapsed = _status(story, "stand", days=30)
    assert lapsed.status == "lapsed"
    assert lapsed.reasons[0] == "Signed off on 3 Mar 2026 by runa; lapsed on 2 Apr 2026."


def test_a_change_of_setting_suspends_and_the_proof_may_be_given_again() -> None:
    story = _stand_proven()
    story.add("sign_off", skill="stand")
    story.add("setting_changed", setting="socket")
    stand = _status(story, "stand")
    assert stand.reasons == (
        "Signed off on 3 Mar 2026 by runa; on 3 Mar 2026 the socket was changed, so it must be proven again.",
        "0 of 2 safe attempts in a row (with one hand on the bars).",
    )
    for support in ("bars_both", "bars_one", "bars_one"):
        story.attempt("stand", support, measures=_GOOD)
    assert (_status(story, "stand").status, _status(story, "stand").reasons[1]) == (
        "suspended",
        "Proven again: may be signed.",
    )


def test_a_knee_that_lacks_a_feature_is_said_by_its_name() -> None:
    story = Story(features=())
    assert _status(story, "yield").reasons == ("The knee, as recorded, lacks: yielding.",)


def test_a_fall_blocks_what_builds_on_it_until_it_is_cleared() -> None:
    story = _stand_proven()
    fall = story.add("fall", skill="don", injury="none")
    assert "The fall of 3 Mar 2026 waits for its review." in _status(story, "stand").reasons
    assert _status(story, "stand").open_falls == (fall,)
    story.add("review", of=[fall], outcome="not_cleared")
    assert "The fall of 3 Mar 2026 was reviewed and is not cleared." in _status(story, "stand").reasons
    story.add("review", of=[fall], outcome="cleared")
    assert _status(story, "stand").open_falls == ()


def test_two_unsafe_attempts_close_together_put_it_back_to_the_first_rung() -> None:
    story = _stand_proven()
    assert _status(story, "stand").allowed == "none"
    story.attempt("stand", "bars_one", result="unsafe")
    assert (_status(story, "stand").allowed, _status(story, "stand").met) == ("bars_both", False)
    story.attempt("stand", "bars_both", result="unsafe")
    assert "Began anew on 3 Mar 2026: two attempts close together were unsafe." in _status(story, "stand").reasons


def test_every_rung_says_when_and_by_whom_it_was_last_proven_safe() -> None:
    story = _stand_proven()
    story.attempt("stand", "bars_one", result="unsafe")
    proven = _status(story, "stand").proven_rungs
    assert set(proven) == {"bars_both", "bars_one"}
    assert proven["bars_one"] == (story.facts[-2]["at"], "runa")


def test_a_person_with_two_prostheses_climbs_the_ladder_for_both() -> None:
    story = Story(side="both")
    ramp = _status(story, "ramp")
    assert (ramp.allowed, ramp.support, ramp.in_a_row) == ("both_rails", "one_rail", 1)


@pytest.mark.parametrize(("stage", "words"), [(0, "stage 1 of 2"), (1, "stage 2 of 2")])
def test_the_reasons_name_the_stage(stage: int, words: str) -> None:
    story = Story()
    for _ in range(stage):
        story.attempt("ramp", "contralateral_rail")
    ramp = _status(story, "ramp")
    assert ramp.stage == stage
    assert words in ramp.reasons[-1]


def test_what_a_sign_off_would_lack_is_said_in_sentences_and_nothing_once_it_is_supported() -> None:
    story = _don_signed()
    blockers = story.episode().sign_off_blockers("stand", story.at)
    assert blockers == ("The evidence is not complete: 0 of 2 safe attempts in a row (with one hand on the bars).",)
    proven = _stand_proven()
    assert proven.episode().sign_off_blockers("stand", proven.at) == ()
    assert proven.episode().sign_off_blockers("stand", proven.at + timedelta(days=11)) == (
        "There was no attempt for more than 10 days.",
    )


def test_it_says_when_the_passing_of_time_alone_changes_something() -> None:
    story = _stand_proven()
    story.add("sign_off", skill="stand")
    episode = story.episode()
    changes = episode.changes_at(story.at)
    assert changes is not None
    start = next(fact for fact in reversed(story.facts) if fact["kind"] == "check")
    assert changes == _microseconds(start["at"]) + 4 * 3600 * 10**6 + 1  # the start check is good for four hours


def _microseconds(text: str) -> int:
    from checklists.domain import instant

    return instant.read(text)[0]


def test_every_skill_has_a_status_in_the_order_of_the_document() -> None:
    assert list(Story().episode().status_words()) == list(PROTOCOL.skills)
