"""The mode of each knee: setting, proving and failing are three facts (common practice, no source)."""

from __future__ import annotations

from typing import Any

import pytest

from tests.domain.example import Story

Knee = tuple[str | None, str | None, str | None]


def _knees(story: Story) -> list[Knee]:
    return [(one.knee, one.mode, one.proof) for one in story.episode().knees()]


def _start(**steps: bool) -> dict[str, Any]:
    return {"kind": "check", "name": "start_of_session", "steps": steps}


def _lock_in(**steps: bool) -> dict[str, Any]:
    return {"kind": "check", "name": "lock_in", "steps": steps}


@pytest.mark.parametrize(
    ("event", "mode", "proof"),
    [
        ({"kind": "mode_set", "mode": "locked"}, "locked", "set"),
        ({"kind": "mode_checked", "mode": "walking", "ok": True}, "walking", "proven"),
        ({"kind": "mode_checked", "mode": "walking", "ok": False}, "walking", "failed"),
        ({"kind": "setting_changed", "setting": "knee", "features": []}, None, None),
        ({"kind": "setting_changed", "setting": "foot"}, "free_swing", "set"),
        (_start(mode=True), "walking", "proven"),
        (_start(mode=False), "walking", "failed"),
        (_start(skin=True), "free_swing", "set"),
        (_lock_in(caught=True, loaded=True), "locked", "proven"),
        (_lock_in(caught=True, loaded=False), "locked", "failed"),
        (_lock_in(caught=True), "locked", "set"),
        ({"kind": "session_opened"}, "free_swing", "set"),
    ],
)
def test_the_last_mode_event_says_the_mode(event: dict[str, Any], mode: str | None, proof: str | None) -> None:
    story = Story()
    story.add("mode_set", mode="free_swing")
    story.add(**event)
    assert _knees(story) == [(None, mode, proof)]


def test_nothing_is_known_before_the_first_mode_event_and_then_by_whom() -> None:
    story = Story()
    assert _knees(story) == [(None, None, None)]
    story.add("mode_set", mode="locked", by="tam")
    (knee,) = story.episode().knees()
    assert (knee.at, knee.by) == (story.facts[-1]["at"], "tam")


@pytest.mark.parametrize(
    ("event", "left", "right"),
    [
        ({"kind": "mode_set", "mode": "locked", "knee": "left"}, ("locked", "set"), (None, None)),
        ({"kind": "mode_set", "mode": "locked"}, ("locked", "set"), ("locked", "set")),
        ({"kind": "mode_checked", "mode": "locked", "ok": True}, ("locked", "set"), ("locked", "set")),
        ({"kind": "mode_checked", "mode": "locked", "ok": False}, ("locked", "failed"), ("locked", "failed")),
        ({**_lock_in(caught=True, loaded=True), "knee": "right"}, (None, None), ("locked", "proven")),
        (_lock_in(caught=True, loaded=True), (None, None), (None, None)),
        (_lock_in(caught=False), ("locked", "failed"), ("locked", "failed")),
        (_start(mode=True), ("walking", "proven"), ("walking", "proven")),
    ],
)
def test_of_two_knees_each_has_a_mode_of_its_own(event: dict[str, Any], left: Any, right: Any) -> None:
    story = Story(side="both")
    story.add(**event)
    assert _knees(story) == [("left", *left), ("right", *right)]
