"""A session ends when nobody uses it; being asked by a page is not use."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime, timedelta

import pytest
from django.conf import settings
from django.test import Client
from pytest_django.fixtures import Settings

from clinic import clock
from clinic.models import TrailRow
from tests.makers import a_lead

pytestmark = pytest.mark.django_db
Enter = Callable[..., Client]


TALLY = "/alerts/tally/"


@pytest.fixture(autouse=True)
def _time_can_pass(settings: Settings) -> None:
    settings.CLOCK_CAN_BE_SET = True


def after(browser: Client, start: datetime, seconds: float, address: str = "/staff/") -> int:
    """The status of a page that is opened so long after the start."""
    with clock.at_instant(start + timedelta(seconds=seconds)):
        return browser.get(address).status_code


def test_a_session_in_use_goes_on_and_an_unused_one_ends(enter: Enter) -> None:
    browser, start, idle = enter(a_lead()), clock.now(), settings.IDLE_SECONDS
    assert after(browser, start, idle - 10) == 200
    assert after(browser, start, 2 * idle - 20) == 200
    assert after(browser, start, 3 * idle) == 302


def test_the_tally_of_alerts_is_answered_and_keeps_no_session_alive(enter: Enter) -> None:
    browser, start, idle = enter(a_lead()), clock.now(), settings.IDLE_SECONDS
    for part in range(1, 10):
        assert after(browser, start, idle * part / 10, TALLY) == 200
    assert after(browser, start, idle + 1, TALLY) == 401


def test_the_end_of_an_unused_session_leaves_a_row(enter: Enter) -> None:
    lead = a_lead()
    browser, start = enter(lead), clock.now()
    after(browser, start, settings.IDLE_SECONDS + 1)
    row = TrailRow.objects.get(verb="session.timed_out")
    assert (row.actor, row.subject_id) == (lead, lead.reference)


def test_no_session_outlives_a_long_day_however_busy(enter: Enter) -> None:
    browser, start = enter(a_lead()), clock.now()
    step = settings.IDLE_SECONDS - 30
    last = settings.SESSION_HOURS * 3600
    assert {after(browser, start, second) for second in range(step, last, step)} == {200}
    assert after(browser, start, last + 1) == 302


def test_after_the_end_the_sign_in_page_says_why(enter: Enter) -> None:
    browser, start = enter(a_lead()), clock.now()
    with clock.at_instant(start + timedelta(seconds=settings.IDLE_SECONDS + 1)):
        said = browser.get("/staff/", follow=True).content.decode()
    assert "Nobody had used this page for a while" in said


def test_a_page_that_asks_by_itself_is_told_how_long_nobody_need_be_there(enter: Enter) -> None:
    browser, start, idle = enter(a_lead()), clock.now(), settings.IDLE_SECONDS
    with clock.at_instant(start + timedelta(seconds=idle - 100)):
        answer = browser.get(TALLY)
    assert 95 <= int(answer["X-Session-Ends-In"]) <= 101
    assert "X-Session-Ends-In" not in browser.get("/staff/"), "a page that somebody opens starts it anew"
