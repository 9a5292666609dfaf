"""What was measured or seen and has no result yet is not lost unsaid: by closing, by another skill, by another page."""

from __future__ import annotations

import pytest
from playwright.sync_api import Dialog, Locator, expect

from caseload.models import Episode
from tests.browser.floor_hands import Hand, recorded

LEFT_OUT, BACK = "Leave it out", "Back to it"


@pytest.fixture
def standing(hand: Hand) -> Hand:
    """Quiet standing with a load share that was keyed in, and no result tapped."""
    hand.start_check()
    hand.skill("stand_load")
    hand.support("bars_both")
    hand.tap(hand.page.get_by_role("button", name="Key in: two scales"))
    for name in ("3", "8", "Next: Other foot, kg", "3", "2", "Take it"):
        press(hand, name)
    expect(hand.page.locator(".pad-scales .read")).to_contain_text("54.3 %")
    return hand


def asked(hand: Hand) -> Locator:
    return hand.page.get_by_role("dialog", name="Not recorded yet")


def press(hand: Hand, name: str) -> None:
    hand.tap(hand.page.get_by_role("button", name=name, exact=True))


def test_before_a_session_closes_a_reading_without_a_result_is_named(standing: Hand, ines: Episode) -> None:
    press(standing, "Close session")
    expect(asked(standing)).to_contain_text("Load share 54.3 % is not recorded: tap a result first.")
    press(standing, BACK)
    expect(asked(standing)).to_have_count(0)
    standing.result("safe")
    standing.sent()
    assert recorded(ines, "attempt")[0]["measures"]["load_share"] == pytest.approx(54.286)
    press(standing, "Close session")
    expect(standing.page.get_by_role("dialog", name="End check")).to_be_visible()
    expect(asked(standing)).to_have_count(0)


def test_what_is_left_out_is_gone_and_the_end_check_follows(standing: Hand, ines: Episode) -> None:
    press(standing, "Close session")
    press(standing, LEFT_OUT)
    expect(standing.page.get_by_role("dialog", name="End check")).to_be_visible()
    expect(standing.page.locator(".pad-scales .read")).to_have_text("–")
    standing.sent()
    assert recorded(ines, "attempt", "session_closed") == []


def test_a_fault_that_was_seen_and_a_stopwatch_that_runs_are_named_too(standing: Hand) -> None:
    fault = standing.page.locator('input[name="seen"]').first
    name = fault.evaluate("input => input.closest('label').innerText.trim()")
    standing.tap(fault)
    standing.tap(standing.page.get_by_role("button", name="Start: Held"))
    press(standing, "Close session")
    said = f"Load share 54.3 %, Held (the stopwatch runs), {name} are not recorded: tap a result first."
    expect(asked(standing)).to_contain_text(said)
    standing.page.keyboard.press("Escape")
    expect(standing.page.get_by_role("button", name="Stop: Held")).to_be_visible()


def test_another_skill_takes_no_reading_away_unasked(standing: Hand) -> None:
    standing.skill("don_check")
    expect(asked(standing)).to_contain_text("Load share 54.3 %")
    press(standing, BACK)
    expect(standing.key("skill", "stand_load")).to_be_checked()
    expect(standing.page.locator(".pad-scales .read")).to_contain_text("54.3 %")
    standing.skill("don_check")
    press(standing, LEFT_OUT)
    expect(standing.key("skill", "don_check")).to_be_checked()
    expect(standing.page.locator("#h-try")).to_contain_text("Putting on")
    standing.sent()


def test_another_person_and_another_page_are_asked_about_first(standing: Hand) -> None:
    standing.sent()
    floor = standing.page.url
    standing.tap(standing.page.get_by_role("link", name="Today", exact=True))
    expect(asked(standing)).to_be_visible()
    press(standing, BACK)
    assert standing.page.url == floor
    standing.tap(standing.page.get_by_role("button", name="Pass on this tablet"))
    press(standing, BACK)
    standing.tap(standing.page.get_by_role("link", name="Today", exact=True))
    press(standing, LEFT_OUT)
    standing.page.wait_for_url("**/")


def test_a_page_that_is_closed_or_loaded_anew_is_asked_about_by_the_browser(standing: Hand, ines: Episode) -> None:
    page, kinds = standing.page, []

    def stay(dialog: Dialog) -> None:
        kinds.append(dialog.type)
        dialog.dismiss()

    page.on("dialog", stay)
    with page.expect_event("dialog"):
        page.evaluate("setTimeout(() => location.reload())")
    expect(page.locator(".pad-scales .read")).to_contain_text("54.3 %")
    standing.result("safe")
    standing.sent()
    page.reload()  # nothing is left to ask about
    expect(page.locator("body[data-floor-ready]")).to_be_attached()
    assert kinds == ["beforeunload"]


def test_a_near_miss_keeps_the_reading_and_a_fall_takes_it_with_its_attempt(standing: Hand, ines: Episode) -> None:
    standing.tap(standing.page.get_by_role("button", name="Near miss"))
    press(standing, "Record the near miss")
    expect(standing.page.locator(".pad-scales .read")).to_contain_text("54.3 %")
    standing.support("bars_both")
    press(standing, "Fall")
    standing.tap(standing.key("injury", "none"))
    press(standing, "Record the fall")
    expect(standing.page.locator(".pad-scales .read")).to_have_text("–")
    standing.sent()
    assert recorded(ines, "attempt")[0]["measures"]["load_share"] == pytest.approx(54.286)
