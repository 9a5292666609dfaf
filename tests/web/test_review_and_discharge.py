"""Recording a review and discharging somebody, from the plan's pages."""

from __future__ import annotations

from collections.abc import Callable
from datetime import timedelta
from typing import Any
from uuid import UUID, uuid4

import pytest
from django.test import Client

from caseload.models import Episode, PlannedReview, Visit
from caseload.words import day_words
from checklists.episode.services import review_fall
from checklists.record.models import Entry, Head
from clinic import clock
from clinic.errors import Conflict
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
    due = PlannedReview.objects.create(episode=episode, kind="fall", due_on=TODAY, planned_by=mine, planned_at=now())
    browser, address = enter(mine), f"/people/{episode.pk}/review/"
    assert "injury: none" in browser.get(address).content.decode()
    later = (TODAY + timedelta(days=30)).isoformat()
    said: dict[str, Any] = {
        "entry_id": str(uuid4()),
        "of": [fall],
        "outcome": "cleared",
        "next_due": later,
        "note": "Shoe was loose.",
    }
    said["settles"] = [str(due.pk)]
    assert browser.post(address, said).status_code == 302
    assert PlannedReview.objects.get(kind="fall").done_at is not None
    assert PlannedReview.objects.get(kind="routine").due_on.isoformat() == later
    assert "injury: none" not in browser.get(address).content.decode()


def test_a_fall_alone_settles_no_routine_review_to_come_and_the_page_says_what_it_does(enter: Enter) -> None:
    mine = a_therapist()
    episode, fall = fallen(mine)
    ahead = PlannedReview.objects.create(
        episode=episode, due_on=TODAY + timedelta(days=32), planned_by=mine, planned_at=now()
    )
    late = PlannedReview.objects.create(
        episode=episode, due_on=TODAY - timedelta(days=3), planned_by=mine, planned_at=now()
    )
    browser, address = enter(mine), f"/people/{episode.pk}/review/"
    seen = " ".join(browser.get(address).content.decode().split())
    named = {row: f"Routine review of {day_words(row.due_on)}" for row in (ahead, late)}
    assert (f"{named[late]} (3 days overdue)" in seen, named[ahead] in seen) == (True, True)
    ticked = {
        row: f'value="{row.pk}"' in seen and "checked" in seen.split(f'value="{row.pk}"')[1].split(">")[0]
        for row in named
    }
    assert ticked == {ahead: False, late: True}
    said = {
        "entry_id": str(uuid4()),
        "of": [fall],
        "outcome": "cleared",
        "settles": [str(late.pk)],
        "note": "Loose shoe.",
    }
    after = browser.post(address, said, follow=True).content.decode()
    assert f"Settled: routine review of {day_words(late.due_on)}." in after
    assert f"Planned next: routine review of {day_words(ahead.due_on)}." in after
    ahead.refresh_from_db()
    assert ahead.done_at is None


def test_a_review_that_settles_nothing_stands_in_the_list_with_its_day_and_first_words(enter: Enter) -> None:
    mine = a_therapist()
    episode, fall = fallen(mine)
    said: dict[str, Any] = {"entry_id": str(uuid4()), "of": [fall], "outcome": "cleared", "note": "Shoe was loose."}
    after = " ".join(enter(mine).post(f"/people/{episode.pk}/review/", said, follow=True).content.decode().split())
    assert "No review is planned now." in after
    listed = after[after.index('id="plan-reviews"') :]
    assert f"<b>{day_words(TODAY)}</b> · after a fall" in listed
    assert "Shoe was loose." in listed


def test_what_a_review_settles_may_be_chosen_by_a_programme_too(enter: Enter) -> None:
    mine = a_therapist()
    episode, fall = fallen(mine)
    rows = [
        PlannedReview.objects.create(
            episode=episode, due_on=TODAY + timedelta(days=n), planned_by=mine, planned_at=now()
        )
        for n in (-1, 40)
    ]
    review: dict[str, Any] = {"actor": mine, "episode_id": episode.pk, "of": [UUID(fall)], "outcome": "cleared"}
    review_fall(**review, settles=[rows[1].pk])
    assert [PlannedReview.objects.get(pk=row.pk).done_at is None for row in rows] == [True, False]
    with pytest.raises(Conflict):
        review_fall(**review, settles=[rows[1].pk])


def test_the_overdue_row_offers_to_record_the_review_and_says_afterwards_what_it_found(enter: Enter) -> None:
    mine = a_therapist()
    episode = an_episode(assigned_to=mine)
    late = PlannedReview.objects.create(
        episode=episode, due_on=TODAY - timedelta(days=31), planned_by=mine, planned_at=now()
    )
    browser = enter(mine)
    row = (
        browser.get(f"/people/{episode.pk}/plan/")
        .content.decode()
        .partition('id="plan-reviews"')[2]
        .partition("<ol")[2]
    )
    assert row.index("Record the review") < row.index("New date")
    said: dict[str, Any] = {
        "entry_id": str(uuid4()),
        "settles": [str(late.pk)],
        "note": "Walks well to the shop and back.",
    }
    after = browser.post(f"/people/{episode.pk}/review/", said, follow=True).content.decode()
    listed = after.partition('id="plan-reviews"')[2]
    assert f"done {day_words(TODAY)}" in listed
    assert "Walks well to the shop" in listed


def test_a_review_of_a_fall_needs_an_outcome_and_keeps_what_was_typed(enter: Enter) -> None:
    mine = a_therapist()
    episode, fall = fallen(mine)
    said: dict[str, Any] = {"entry_id": str(uuid4()), "of": [fall], "note": "Shoe was loose."}
    answer = enter(mine).post(f"/people/{episode.pk}/review/", said)
    assert answer.status_code == 422
    assert "Shoe was loose." in answer.content.decode()
    assert not Entry.objects.filter(kind="review").exists()


def test_a_review_that_is_sent_twice_is_recorded_once(enter: Enter) -> None:
    mine = a_therapist()
    browser, address = enter(mine), f"/people/{an_episode(assigned_to=mine).pk}/review/"
    said: dict[str, Any] = {"entry_id": str(uuid4()), "note": "Walks well."}
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
    said: dict[str, Any] = {"entry_id": str(uuid4()), "reason": "Goals reached."}
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
