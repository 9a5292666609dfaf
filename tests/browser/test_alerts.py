"""Alerts in a real browser: they appear by themselves, are heard, are answered; and the poll keeps no session alive."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from playwright.sync_api import Page, expect

from caseload.models import Episode
from checklists.alerts.models import Alert
from clinic.models import Staff
from tests.browser.conftest import session_ends, takes_both_steps
from tests.browser.looking import barriers, in_both_schemes
from tests.makers import a_therapist, ago, an_attempt, an_entry, an_episode, recorded

Enter = Callable[..., Page]
WITHIN = 5_000  # milliseconds


def a_skipped_start_check(by: Staff, episode: Episode) -> None:
    """An attempt in an open session without the start check."""
    recorded(by, episode, an_entry("session_opened", at=ago(minutes=6)), an_attempt("sit_stand", at=ago(minutes=5)))


def test_the_tally_of_an_open_page_follows_within_five_seconds_and_is_said_aloud(enter: Enter) -> None:
    therapist = a_therapist()
    episode = an_episode(assigned_to=therapist)
    page = enter(therapist, "/password/")
    page.wait_for_load_state("networkidle")  # the tally has been asked for once
    tally = page.locator("[data-tally]")
    expect(tally).to_be_hidden()
    a_skipped_start_check(therapist, episode)
    expect(tally).to_contain_text("1", timeout=WITHIN)
    expect(page.locator("[role=status][data-tally-news]")).to_have_text("1 alert waits for an answer")


def test_an_open_alerts_page_says_that_there_is_more_and_does_not_reload_by_itself(enter: Enter) -> None:
    therapist = a_therapist()
    episode = an_episode(assigned_to=therapist)
    page = enter(therapist, "/alerts/")
    page.wait_for_load_state("networkidle")
    a_skipped_start_check(therapist, episode)
    page.get_by_role("link", name="New alerts have come in").click(timeout=3 * WITHIN)  # how soon, the test above holds
    expect(page.get_by_role("article")).to_have_count(1)


@pytest.mark.parametrize("size", ["tablet", "tablet upright"])
def test_what_comes_in_moves_nothing_under_the_finger(enter: Enter, size: str) -> None:
    therapist = a_therapist()
    a_skipped_start_check(therapist, an_episode(assigned_to=therapist))
    page = enter(therapist, "/alerts/", size=size)
    page.wait_for_load_state("networkidle")  # the tally has been asked for once
    page.locator("summary", has_text="Say what was done").click()
    pressed = page.locator("article textarea, article button, article summary, .pick, .plate nav a")
    before = [one.bounding_box() for one in pressed.all()]
    a_skipped_start_check(therapist, an_episode(assigned_to=therapist))
    expect(page.get_by_role("link", name="New alerts have come in")).to_be_visible(timeout=3 * WITHIN)
    assert [one.bounding_box() for one in pressed.all()] == before


def test_the_first_number_beside_alerts_moves_no_way_of_the_plate(enter: Enter) -> None:
    therapist = a_therapist()
    page = enter(therapist, "/alerts/", size="tablet upright")
    page.wait_for_load_state("networkidle")
    ways = page.locator(".plate nav a, .pick")
    before = [one.bounding_box() for one in ways.all()]
    a_skipped_start_check(therapist, an_episode(assigned_to=therapist))
    expect(page.locator("[data-tally]")).to_contain_text("1", timeout=3 * WITHIN)
    assert [one.bounding_box() for one in ways.all()] == before


def test_an_act_is_answered_in_place_by_keyboard(enter: Enter) -> None:
    therapist = a_therapist()
    a_skipped_start_check(therapist, an_episode(assigned_to=therapist))
    page = enter(therapist, "/alerts/", size="tablet upright")
    page.locator("summary", has_text="Say what was done").focus()
    page.keyboard.press("Enter")
    expect(page.get_by_label("What was done for")).to_be_focused()
    expect(page.get_by_role("button", name="Answer")).to_be_in_viewport()
    page.keyboard.type("Start check done together: all good.")
    page.keyboard.press("Tab")
    page.keyboard.press("Enter")
    expect(page.get_by_text("Nothing waits for an answer")).to_be_visible()
    assert Alert.objects.get().acknowledged_by == therapist


@pytest.mark.parametrize("size", ["tablet", "tablet upright"])
def test_the_way_from_the_persons_page_leads_to_their_card_among_all(enter: Enter, size: str) -> None:
    therapist = a_therapist()
    episode = an_episode(assigned_to=therapist)
    a_skipped_start_check(therapist, episode)
    for _other in range(6):
        a_skipped_start_check(therapist, an_episode(assigned_to=therapist))
    act = Alert.objects.get(episode=episode)
    page = enter(therapist, f"/people/{episode.pk}/", size=size)
    page.get_by_role("link", name="1 alert to answer").click()
    card = page.locator(f"#act-{act.entry}")
    expect(page.get_by_role("article")).to_have_count(7)
    expect(card.get_by_role("heading", level=2)).to_be_in_viewport()
    assert card.evaluate("(one) => one.matches(':target') && getComputedStyle(one).outlineStyle") == "solid"


def test_no_barriers_on_the_alerts_page(enter: Enter) -> None:
    therapist = a_therapist()
    a_skipped_start_check(therapist, an_episode(assigned_to=therapist))
    page = enter(therapist, "/alerts/")
    page.locator("summary", has_text="Say what was done").click()
    assert in_both_schemes(page) == []
    act = Alert.objects.get()
    page.goto(f"/alerts/{act.episode_id}/{act.entry}/")
    assert in_both_schemes(page) == []


def test_when_the_session_ends_the_page_is_covered_and_what_was_typed_comes_back(enter: Enter) -> None:
    therapist = a_therapist()
    a_skipped_start_check(therapist, an_episode(assigned_to=therapist))
    page = enter(therapist, "/alerts/")
    page.locator("summary", has_text="Say what was done").click()
    page.get_by_label("What was done for").fill("Half a sentence")
    session_ends(therapist)
    cover = page.get_by_role("dialog", name="You are signed out")
    expect(cover).to_be_visible(timeout=WITHIN)
    assert barriers(page) == []
    cover.get_by_role("button", name="Sign in").click()
    expect(page.get_by_text("What you typed is kept")).to_be_visible()
    takes_both_steps(page, therapist)
    expect(page.get_by_label("What was done for")).to_have_value("Half a sentence")
    assert Alert.objects.get().acknowledged_at is None
