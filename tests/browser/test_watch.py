"""A page that has been open for an hour learns that alerts may be reaching nobody, the Floor too."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest
from playwright.sync_api import Page, expect

from clinic.watch import selectors
from clinic.watch.beats import beat
from tests.browser.looking import barriers
from tests.makers import a_lead, a_therapist, ago, an_episode

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]
Enter = Callable[..., Page]
SAID = "Alerts may be reaching nobody at this moment"


def everything_stops(settings: Any) -> None:
    """The worker was last alive an hour ago."""
    beat("outbox", ago(hours=1))
    settings.WATCH_LIMITS = {"worker": 120}
    selectors.forget()


@pytest.mark.parametrize("place", ["today", "floor"])
def test_a_page_that_stays_open_learns_it(enter: Enter, settings: Any, place: str) -> None:
    therapist = a_therapist()
    episode = an_episode(assigned_to=therapist)
    page = enter(therapist, "/" if place == "today" else f"/floor/{episode.pk}/")
    expect(page.get_by_text(SAID)).to_have_count(0)
    everything_stops(settings)
    page.evaluate(
        "document.dispatchEvent(new Event('visibilitychange'))"
    )  # it asks every 15 s, and when looked at again
    expect(page.get_by_text(SAID)).to_be_visible()
    assert barriers(page) == []
    settings.WATCH_LIMITS = {}
    selectors.forget()
    page.evaluate("document.dispatchEvent(new Event('visibilitychange'))")
    expect(page.get_by_text(SAID)).to_have_count(0)


def test_a_lead_opens_what_it_is_and_goes_to_watch(enter: Enter, settings: Any) -> None:
    everything_stops(settings)
    page = enter(a_lead(), "/caseload/")
    page.get_by_text("What it is, and what to do").click()
    expect(page.get_by_text("Last time the worker emptied the outbox")).to_be_visible()
    assert barriers(page) == []
    page.get_by_role("link", name="Open the page Server").click()
    expect(page.get_by_role("heading", level=1, name="Server")).to_be_visible()
    assert barriers(page) == []
