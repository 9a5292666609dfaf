"""The alert of a fall that nobody reviewed in time: it leads to the review, and once that is recorded says so."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime
from typing import Any

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext

from caseload.models import Episode
from checklists.alerts.models import Alert
from checklists.alerts.scans import scan_deadlines
from checklists.alerts.selectors import acts
from clinic import clock
from clinic.models import Staff
from clinic.web.tags import moment
from tests.makers import a_fall, a_lead, a_therapist, ago, an_assistant, an_entry, an_episode, now, recorded
from tests.web.pages import page
from tests.web.test_alerts_page import text_of

pytestmark = pytest.mark.django_db
Enter = Callable[..., Client]
ASKS = "Look at the fall now and record the review; the clinic lead is to know that it is late."


@pytest.fixture
def dele() -> Staff:
    return a_therapist(name="Dele Morrowby")


@pytest.fixture
def viktor(dele: Staff) -> Episode:
    return an_episode(assigned_to=dele)


def late_fall(by: Staff, episode: Episode) -> str:
    """A fall whose time for a review is over, and its alert. Its id."""
    fall = a_fall(at=ago(days=5))
    recorded(by, episode, fall)
    scan_deadlines(now())
    assert Alert.objects.filter(rule="fall_unreviewed", entry=fall["id"], open=True).exists()
    return str(fall["id"])


def reviewed(by: Staff, episode: Episode, fall: str, *, at: datetime, outcome: str = "cleared") -> dict[str, Any]:
    review = an_entry("review", at=at, of=[fall], outcome=outcome)
    assert recorded(by, episode, review).verdicts[0].error is None
    return review


def way(episode: Episode, back: str = "/alerts/") -> str:
    return f'href="/people/{episode.pk}/review/?next={back}">Record the review'


def test_it_leads_whoever_may_review_to_the_review_and_back(enter: Enter, dele: Staff, viktor: Episode) -> None:
    fall = late_fall(dele, viktor)
    answering = f"/alerts/{viktor.pk}/{fall}/"
    for reader in (dele, a_lead()):
        browser = enter(reader)
        assert way(viktor) in page(browser, "/alerts/")
        assert way(viktor, answering) in page(browser, answering)


def test_it_leads_nobody_there_whose_review_it_is_not(enter: Enter, dele: Staff, viktor: Episode) -> None:
    late_fall(dele, viktor)
    seen = page(enter(an_assistant(site=viktor.site)), "/alerts/")
    assert ASKS in seen
    assert "Record the review" not in seen


def test_it_leads_there_once_answered_too_as_long_as_the_fall_is_not_reviewed(
    enter: Enter, dele: Staff, viktor: Episode
) -> None:
    fall, browser = late_fall(dele, viktor), enter(dele)
    browser.post(f"/alerts/{viktor.pk}/{fall}/", {"text": "Telephoned her; the review is tomorrow."})
    assert way(viktor) in page(browser, "/alerts/?state=answered")
    reviewed(dele, viktor, fall, at=ago(minutes=1))
    assert "Record the review" not in page(browser, "/alerts/?state=answered")


@pytest.mark.parametrize(("outcome", "words"), [("cleared", "cleared"), ("not_cleared", "not cleared")])
def test_once_reviewed_it_says_when_by_whom_and_with_what_outcome(
    enter: Enter, dele: Staff, viktor: Episode, outcome: str, words: str
) -> None:
    fall, at = late_fall(dele, viktor), ago(minutes=3)
    reviewed(dele, viktor, fall, at=at, outcome=outcome)
    browser = enter(a_lead())
    for address in ("/alerts/", f"/alerts/{viktor.pk}/{fall}/"):
        seen = text_of(browser, address)
        assert (
            f"The fall was reviewed on {moment(at)} by Dele Morrowby: {words}. What is left is the answer: say what "
            "was done." in seen
        )
        assert ASKS not in seen
        assert "Record the review" not in seen


def test_a_review_that_was_struck_out_or_was_of_another_fall_is_none(
    enter: Enter, dele: Staff, viktor: Episode
) -> None:
    fall, other = late_fall(dele, viktor), a_fall(at=ago(days=1))
    recorded(dele, viktor, other)
    review = reviewed(dele, viktor, fall, at=ago(minutes=4))
    reviewed(dele, viktor, str(other["id"]), at=ago(minutes=3))
    recorded(dele, viktor, an_entry("struck_out", entry=review["id"], reason="another person"))
    seen = page(enter(dele), f"/alerts/{viktor.pk}/{fall}/")
    assert ASKS in seen
    assert "Record the review" in seen


def test_nobody_is_told_to_tell_themselves(enter: Enter, dele: Staff, viktor: Episode) -> None:
    late_fall(dele, viktor)
    seen = text_of(enter(a_lead()))
    assert ASKS in seen
    assert "tell the clinic lead" not in seen


def test_however_many_wait_or_are_reviewed_the_page_asks_no_more_often(enter: Enter, dele: Staff) -> None:
    browser = enter(dele)

    def asked(many: int) -> int:
        for _number in range(many):
            episode = an_episode(assigned_to=dele)
            late_fall(dele, episode)
            reviewed(dele, episode, late_fall(dele, episode), at=ago(minutes=3))
        page(browser, "/alerts/")
        with CaptureQueriesContext(connection) as statements:
            page(browser, "/alerts/")
        return len(statements)

    few = asked(1)
    assert asked(3) == few
    assert sum(bool(act.reviewed) for act in acts(dele, at=clock.now())) == 4
