"""Recording a review and discharging somebody, from the plan's pages."""

from __future__ import annotations

from collections.abc import Callable
from datetime import timedelta
from typing import Any
from urllib.parse import urlencode
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
    due.refresh_from_db()
    assert due.done_at is not None
    again = PlannedReview.objects.exclude(pk=due.pk).get()
    assert (again.kind, again.due_on.isoformat()) == ("fall", later)
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


def test_the_form_tells_what_happened_at_each_fall_as_the_timeline_does_and_who_recorded_it(enter: Enter) -> None:
    mine = a_therapist(name="Runa Achterling")
    episode = an_episode(assigned_to=mine)
    told = {
        "circumstances": "Slipped on the wet slope.",
        "action": "Sat down, telephoned us.",
        "note": "Alone at home.",
    }
    recorded(mine, episode, a_fall(skill="ramp_down", injury="minor", **told), a_fall(at=ago(days=1)))
    browser = enter(mine)
    seen = browser.get(f"/people/{episode.pk}/review/").content.decode()
    line = "Fall during slope down, injury: minor\nSlipped on the wet slope. · Sat down, telephoned us.\nAlone at home."
    assert f"{line}\nRecorded by Runa Achterling" in seen
    assert "Fall, injury: none\nWhat happened and what was done is not written down." in seen
    timeline = browser.get(f"/people/{episode.pk}/").content.decode()
    assert "Slipped on the wet slope. · Sat down, telephoned us." in timeline


def test_the_day_just_named_is_said_first_and_is_a_look_after_the_fall(enter: Enter) -> None:
    mine = a_therapist()
    episode, fall = fallen(mine)
    before, again = TODAY + timedelta(days=5), TODAY + timedelta(days=7)
    PlannedReview.objects.create(episode=episode, due_on=before, planned_by=mine, planned_at=now())
    said: dict[str, Any] = {
        "entry_id": str(uuid4()),
        "of": [fall],
        "outcome": "cleared",
        "next_due": again.isoformat(),
    }
    browser = enter(mine)
    after = browser.post(f"/people/{episode.pk}/review/", said, follow=True).content.decode()
    first = f"Planned: look again on {day_words(again)}. Next before it: routine review of {day_words(before)}."
    assert first in after
    assert f"<b>{day_words(again)}</b> · look again after the fall" in after
    form = browser.get(f"/people/{episode.pk}/review/").content.decode()
    assert f"Look again on {day_words(again)} after the fall (in 7 days)" in form


def test_without_an_earlier_one_only_the_day_is_said(enter: Enter) -> None:
    mine = a_therapist()
    episode = an_episode(assigned_to=mine)
    again = TODAY + timedelta(days=9)
    said: dict[str, Any] = {"entry_id": str(uuid4()), "next_due": again.isoformat(), "note": "Walks well."}
    after = enter(mine).post(f"/people/{episode.pk}/review/", said, follow=True).content.decode()
    assert f"Planned: look again on {day_words(again)}." in after
    assert "Next before it" not in after
    assert PlannedReview.objects.get().kind == "routine"


@pytest.mark.parametrize(
    ("asked", "leads"),
    [("/", "/"), ("/day-end/", "/day-end/"), ("https://elsewhere.example/", ""), ("//x.example", "")],
)
def test_back_and_the_answer_lead_to_where_they_came_from_on_this_server(enter: Enter, asked: str, leads: str) -> None:
    mine = a_therapist()
    episode = an_episode(assigned_to=mine)
    browser, address = enter(mine), f"/people/{episode.pk}/review/?{urlencode({'next': asked})}"
    leads = leads or f"/people/{episode.pk}/plan/"
    assert f'href="{leads}">Back</a>' in browser.get(address).content.decode()
    answer = browser.post(address, {"entry_id": str(uuid4()), "note": "Walks well."})
    assert (answer.status_code, answer.headers["Location"]) == (302, leads)


def test_today_leads_to_the_form_and_names_itself_as_the_way_back(enter: Enter) -> None:
    mine = a_therapist()
    episode, _fall = fallen(mine)
    Visit.objects.create(episode=episode, site=episode.site, staff=mine, starts_at=now(), minutes=45)
    browser, form = enter(mine), f"/people/{episode.pk}/review/"
    assert f'href="{form}?next=/"' in browser.get("/").content.decode()
    person = f"/people/{episode.pk}/"
    assert f'href="{form}?next={person}"' in browser.get(person).content.decode()


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
