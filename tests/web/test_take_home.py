"""The page to take home promises no more than the core advises today, whatever is signed off.

A sign-off stands after one unsafe attempt, after a fall outside any skill and through a long break, while the advice
goes back: the status is the record's word for what was signed, the advice that for what may be done now.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest
from django.test import Client

from caseload.models import Episode
from checklists.person.cleared import cleared
from checklists.person.selectors import standing_of
from clinic.staff.models import Staff
from tests.makers import a_fall, a_lead, ago, an_attempt, an_episode, imported, now
from tests.taught import taught
from tests.web.pages import page

pytestmark = pytest.mark.django_db
Enter = Callable[[Staff], Client]
ALONE, NOT_NOW, PRINT = "Cleared to do by yourself", "Not now: must be shown again first", "Print this page"
STANDING = "Quiet upright standing on the prosthesis</b><br>without holding on"


def stands_alone(staff: Staff, *, days: int) -> Episode:
    """Somebody signed off to stand without holding on, so many days ago."""
    episode = an_episode(assigned_to=staff)
    imported(staff, episode, *taught(staff, "stand_load", days=days))
    return episode


def test_what_is_signed_off_and_advised_today_may_be_done_alone(enter: Enter, runa: Staff) -> None:
    for reader in (runa, a_lead()):
        seen = page(enter(reader), f"/people/{stands_alone(runa, days=2).pk}/cleared/")
        assert STANDING in seen
        assert "Not to be given to them yet" not in seen


@pytest.mark.parametrize(
    ("came", "days", "why"),
    [
        (an_attempt("stand_load", "bars_one", at=ago(days=1), result="unsafe"), 2, "Make a safe attempt with both"),
        (a_fall(at=ago(days=1)), 2, "fall"),
        (None, 40, "days since the last attempt"),
    ],
    ids=["an unsafe attempt", "a fall", "a long break"],
)
def test_less_is_advised_than_was_signed_off_and_the_page_does_not_promise_it(
    enter: Enter, runa: Staff, came: dict[str, Any] | None, days: int, why: str
) -> None:
    episode = stands_alone(runa, days=days)
    if came:
        imported(runa, episode, {**came, "by": runa.reference})
    assert standing_of(episode.pk, at=now()).board["skills"]["stand_load"]["status"] == "signed_off"
    seen = page(enter(runa), f"/people/{episode.pk}/cleared/")
    assert STANDING not in seen
    assert seen.index(NOT_NOW) < seen.index("Quiet upright standing", seen.index(NOT_NOW))
    told = seen[seen.index("Not to be given to them yet") : seen.index(PRINT)]
    assert "Quiet standing" in told
    assert why in told


def test_whoever_is_not_cleared_for_free_swing_or_the_lock_reads_that_they_do_not_switch_it_on_at_home(
    enter: Enter, runa: Staff
) -> None:
    episode = stands_alone(runa, days=2)
    Episode.objects.filter(pk=episode.pk).update(features=["lock", "free_swing", "yielding"])
    seen = page(enter(runa), f"/people/{episode.pk}/cleared/")
    assert "Do not switch free swing on at home" in seen
    assert "Do not switch the lock on at home" in seen
    assert "Free swing is for the bicycle only." not in seen
    assert "If you used the lock" not in seen


def test_whoever_is_cleared_for_free_swing_reads_what_it_is_for(enter: Enter, runa: Staff) -> None:
    episode = an_episode(assigned_to=runa)
    imported(runa, episode, *taught(runa, "free_swing_use", days=2))
    seen = page(enter(runa), f"/people/{episode.pk}/cleared/")
    assert "Free swing is for the bicycle only." in seen
    assert "Do not switch free swing on at home" not in seen


def test_whoever_was_cleared_for_free_swing_and_fell_reads_that_they_do_not_switch_it_on(
    enter: Enter, runa: Staff
) -> None:
    episode = an_episode(assigned_to=runa)
    imported(runa, episode, *taught(runa, "free_swing_use", days=3), a_fall(at=ago(days=1), by=runa))
    seen = page(enter(runa), f"/people/{episode.pk}/cleared/")
    assert "Do not switch free swing on at home" in seen
    assert "Free swing is for the bicycle only." not in seen


def test_of_what_the_knee_does_not_have_nothing_is_said(enter: Enter, runa: Staff) -> None:
    episode = stands_alone(runa, days=2)
    Episode.objects.filter(pk=episode.pk).update(features=["yielding"])
    seen = page(enter(runa), f"/people/{episode.pk}/cleared/").lower()
    assert "free swing" not in seen
    assert "the lock on" not in seen


def test_what_is_signed_off_for_the_bars_alone_says_so_among_what_is_done_with_us(enter: Enter, runa: Staff) -> None:
    """A signature counts there as well; what is still being learnt has neither its mark nor its words."""
    episode = an_episode(assigned_to=runa)
    imported(runa, episode, *taught(runa, "hip_drive", days=2), an_attempt("weight_shift", at=ago(days=1), by=runa))
    shown = cleared(runa, episode.pk, at=now())[0].with_us
    told = {one.title: (one.mark, one.how, one.signed is not None) for one in shown}
    bars = "only in the clinic’s parallel bars, holding on with one hand"
    assert told["Small quick hip bend with little effort (pushing a ball)"] == ("signed_off", bars, False)
    assert told["Moving trunk and pelvis together over the prosthetic forefoot"] == ("training", "", False)
    assert f"</b><br>{bars}" in page(enter(runa), f"/people/{episode.pk}/cleared/")
