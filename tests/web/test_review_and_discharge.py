"""Recording a review and discharging somebody, from the plan's pages."""

from __future__ import annotations

from collections.abc import Callable
from datetime import timedelta
from uuid import uuid4

import pytest
from django.test import Client

from caseload.models import Episode, PlannedReview, Visit
from checklists.record.models import Entry, Head
from clinic import clock
from clinic.models import Staff
from tests.makers import (
    a_fall,
    a_prosthetist,
    a_therapist,
    ago,
    an_assistant,
    an_entry,
    an_episode,
    imported,
    now,
    recorded,
)

pytestmark = pytest.mark.django_db
Enter = Callable[..., Client]
TODAY = clock.local_day(clock.now(), "Europe/London")


def fallen(mine: Staff) -> tuple[Episode, str]:
    """Somebody with a fall that nobody has reviewed yet, and its id."""
    episode, fall = an_episode(assigned_to=mine), a_fall(skill="short_steps")
    assert recorded(mine, episode, fall).verdicts[0].outcome == "accepted"
    return episode, fall["id"]


def test_a_fall_is_offered_for_review_and_cleared_and_the_plan_is_settled(enter: Enter) -> None:
    mine = a_therapist()
    episode, fall = fallen(mine)
    PlannedReview.objects.create(episode=episode, kind="fall", due_on=TODAY, planned_by=mine, planned_at=now())
    browser, address = enter(mine), f"/people/{episode.pk}/review/"
    assert "injury: none" in browser.get(address).content.decode()
    later = (TODAY + timedelta(days=30)).isoformat()
    said = {"entry_id": str(uuid4()), "of": [fall], "outcome": "cleared", "next_due": later, "note": "Shoe was loose."}
    assert browser.post(address, said).status_code == 302
    assert PlannedReview.objects.get(kind="fall").done_at is not None
    assert PlannedReview.objects.get(kind="routine").due_on.isoformat() == later
    assert "injury: none" not in browser.get(address).content.decode()


def test_a_review_of_a_fall_needs_an_outcome_and_keeps_what_was_typed(enter: Enter) -> None:
    mine = a_therapist()
    episode, fall = fallen(mine)
    said = {"entry_id": str(uuid4()), "of": [fall], "note": "Shoe was loose."}
    answer = enter(mine).post(f"/people/{episode.pk}/review/", said)
    assert answer.status_code == 422
    assert "Shoe was loose." in answer.content.decode()
    assert not Entry.objects.filter(kind="review").exists()


def test_a_review_that_is_sent_twice_is_recorded_once(enter: Enter) -> None:
    mine = a_therapist()
    browser, address = enter(mine), f"/people/{an_episode(assigned_to=mine).pk}/review/"
    said = {"entry_id": str(uuid4()), "note": "Walks well."}
    assert [browser.post(address, said).status_code for _ in range(2)] == [302, 302]
    assert Entry.objects.filter(kind="review").count() == 1


@pytest.mark.parametrize("maker", [a_prosthetist, an_assistant])
def test_who_may_not_review_or_discharge_is_refused(enter: Enter, maker: Callable[[], Staff]) -> None:
    episode, browser = an_episode(), enter(maker())
    pages = [browser.get(f"/people/{episode.pk}/{page}/").status_code for page in ("review", "discharge")]
    assert pages == [403, 403]


def test_a_discharge_closes_the_episode_and_what_was_planned(enter: Enter) -> None:
    mine = a_therapist()
    episode = an_episode(assigned_to=mine)
    ahead = now() + timedelta(days=3)
    Visit.objects.create(episode=episode, site=episode.site, staff=mine, starts_at=ahead)
    said = {"entry_id": str(uuid4()), "reason": "Goals reached."}
    page = enter(mine).post(f"/people/{episode.pk}/discharge/", said, follow=True)
    assert "is closed." in page.content.decode()
    episode.refresh_from_db()
    assert episode.closed_at is not None
    assert Visit.objects.get().state == "cancelled"
    assert "episode_closed" in Entry.objects.filter(episode=episode).values_list("kind", flat=True)
    assert Head.objects.get(episode=episode).entries == 2


def test_a_discharge_with_the_lock_in_says_first_what_that_breaks(enter: Enter) -> None:
    mine = a_therapist()
    locked, walking = an_episode(assigned_to=mine), an_episode(assigned_to=mine)
    imported(mine, locked, an_entry("mode_set", mode="locked", by=mine, at=ago(hours=1)))
    browser = enter(mine)
    pages = [browser.get(f"/people/{one.pk}/discharge/").content.decode() for one in (locked, walking)]
    assert ["Closing it now would break a rule" in page for page in pages] == [True, False]
