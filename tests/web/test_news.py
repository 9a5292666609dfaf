"""News for one member of staff, on the Alerts page: read piece by piece or as much as was shown, and by nobody else."""

from __future__ import annotations

import re
from collections.abc import Callable
from datetime import date

import pytest
from django.test import Client

from caseload.models import Episode, PlannedReview
from caseload.request.services import ask_adjustment, decline_request
from checklists.alerts.handlers import tell_answered
from checklists.alerts.models import Notice
from clinic import clock
from clinic.models import Staff
from tests.makers import a_cover, a_lead, a_prosthetist, a_therapist, ago, an_episode
from tests.web.test_alerts_page import text_of

pytestmark = pytest.mark.django_db
Enter = Callable[..., Client]


def news_for(staff: Staff, episode: Episode, topic: str) -> Notice:
    return Notice.objects.create(
        staff=staff,
        episode=episode,
        topic=topic,
        severity="major",
        subject_id=str(episode.pk),
        dedupe_key=topic,
        made_at=clock.now(),
    )


def test_news_of_ones_own_is_read_one_by_one_or_all_at_once(enter: Enter) -> None:
    lead, episode = a_lead(), an_episode()
    first, *_others = [news_for(lead, episode, topic) for topic in ("review.overdue", "review.due", "episode.left")]
    browser = enter(lead)
    page = browser.get("/alerts/").content.decode()
    up_to = re.search(r'name="up_to" value="(\d+)"', page)
    assert up_to is not None
    browser.post("/alerts/news/read/", {"one": first.pk})
    left = text_of(browser)
    assert ("A review is overdue" in left, "A review is due" in left) == (False, True)
    browser.post("/alerts/news/read/", {"up_to": up_to[1]})
    assert "News for you" not in text_of(browser)


def test_no_news_is_read_that_was_not_shown(enter: Enter) -> None:
    """The page shows the newest twenty: it says how much there is, and reads what it has shown."""
    lead, episode = a_lead(), an_episode()
    about = {"staff": lead, "episode": episode, "topic": "review.due", "severity": "major", "made_at": clock.now()}
    keys = [{"subject_id": str(number), "dedupe_key": f"review.due:{number}"} for number in range(23)]
    rows = [Notice(**about, **each) for each in keys]
    Notice.objects.bulk_create(rows)
    browser = enter(lead)
    page = browser.get("/alerts/").content.decode()
    assert "23 unread" in page
    assert "The newest 20 are shown; 3 older come once these are read." in page
    sent = {name: re.search(rf'name="{name}" value="(\d+)"', page) for name in ("up_to", "since")}
    browser.post("/alerts/news/read/", {name: found[1] for name, found in sent.items() if found})
    left = browser.get("/alerts/").content.decode()
    assert ("3 unread" in left, "I have read all of it" in left) == (True, True)


def test_news_about_somebody_who_is_in_other_hands_now_has_neither_name_nor_link(enter: Enter) -> None:
    therapist, theirs, anothers = a_therapist(), an_episode(), an_episode()
    a_cover(theirs, therapist, start=ago(days=1), end=None)
    about = {"staff": therapist, "topic": "review.overdue", "severity": "major", "made_at": clock.now()}
    for episode in (theirs, anothers):
        Notice.objects.create(episode=episode, subject_id="1", dedupe_key=episode.reference, **about)
    page = enter(therapist).get("/alerts/").content.decode()
    assert f"/people/{theirs.pk}/" in page
    assert str(anothers.pk) not in page
    assert f"{anothers.reference}, not yours to see now" in page


def test_news_of_an_answer_says_which_it_was(enter: Enter) -> None:
    runa, bench = a_therapist(), a_prosthetist()
    episode = an_episode(assigned_to=runa)
    asked = ask_adjustment(actor=runa, episode_id=episode.pk, setting="socket", text="It presses at the rim.")
    decline_request(actor=bench, request_id=asked.pk, version=asked.version, reason="The plaster room is closed.")
    tell_answered({"request": str(asked.pk), "episode": str(episode.pk)}, clock.now())
    assert "Your request is answered · declined: “The plaster room is closed.”" in text_of(enter(runa))


def test_news_of_a_review_that_has_another_date_now_says_which(enter: Enter) -> None:
    lead, episode = a_lead(), an_episode()
    was, now = date(2026, 11, 3), date(2026, 12, 2)
    about = {"staff": lead, "episode": episode, "topic": "review.escalated", "severity": "major"}
    for due in (was, now):
        review = PlannedReview.objects.create(
            episode=episode, kind="routine", due_on=due, planned_at=clock.now(), planned_by=lead
        )
        key = f"review.escalated:{review.pk}:{was}"
        Notice.objects.create(**about, subject_id=str(review.pk), dedupe_key=key, made_at=clock.now())
    page = text_of(enter(lead))
    assert "An overdue review that nobody has seen to" in page
    assert page.count("a new date since: 2 Dec 2026") == 1


def test_nobody_reads_anothers_news_away(enter: Enter) -> None:
    lead, other = a_lead(), a_lead()
    row = Notice.objects.create(
        staff=lead, topic="request.asked", severity="minor", subject_id="1", dedupe_key="two", made_at=clock.now()
    )
    browser = enter(other)
    browser.post("/alerts/news/read/", {"up_to": row.pk})
    browser.post("/alerts/news/read/", {"one": row.pk})
    row.refresh_from_db()
    assert row.read_at is None
