"""The main job with the keyboard alone, from the door to the door."""

from __future__ import annotations

import pytest
from playwright.sync_api import Page, expect

from caseload.models import Episode, Visit
from clinic.staff.models import Staff
from tests.browser.by_keyboard import Keyboard
from tests.browser.conftest import Enter
from tests.browser.floor_hands import START, Hand, recorded
from tests.makers import PASSWORD, a_code, a_person, a_therapist, an_episode, now


@pytest.fixture
def therapist() -> Staff:
    return a_therapist()


@pytest.fixture
def ines(therapist: Staff) -> Episode:
    """Who comes now."""
    ines = an_episode(assigned_to=therapist, person=a_person(given_name="Ines", family_name="Vartholm"))
    Visit.objects.create(episode=ines, site=ines.site, staff=therapist, starts_at=now(), minutes=45)
    return ines


def _comes_in(page: Page, board: Keyboard, therapist: Staff) -> None:
    page.goto("/sign-in/")
    board.write("input[name=login], input[name=username]", therapist.username)
    board.write("input[type=password]", PASSWORD)
    page.keyboard.press("Enter")
    expect(page.get_by_label("Code", exact=True)).to_be_visible()
    board.write("input[autocomplete=one-time-code]", a_code(therapist))
    page.keyboard.press("Enter")
    expect(page.get_by_role("heading", name="Ines Vartholm")).to_be_visible()


def _proves(board: Keyboard, *steps: str) -> None:
    for step in steps:
        board.press(f'.prove input[value="{step}"]', key="Space")


def _one_session(page: Page, board: Keyboard) -> None:
    """Start check, two attempts, a deviation, a load share, the lock in and out, end check."""
    for step in START:
        board.choose(f"start-{step}", "good")
    expect(page.locator(".kneebar-is-proven")).to_be_visible()
    for skill, rung in (("don_check", "none"), ("stand_load", "bars_both")):
        board.choose("skill", skill)
        board.choose("support", rung)
        expect(page.locator("[data-result=safe]")).to_be_enabled()
        if skill == "stand_load":
            board.choose("seen", "hollow_back")
            for _ in range(2):  # two feet, two scales
                page.keyboard.press("Tab")
                board.reach(".scale-slider")
                page.keyboard.press("ArrowRight")
        board.press("[data-result=safe]")
    board.choose("mode-knee", "locked")
    _proves(board, "straight", "caught", "loaded")
    expect(page.locator(".kneebar-is-proven .kneebar-mode")).to_have_text("Locked")
    board.choose("mode-knee", "walking")
    _proves(board, "released", "bends")
    Hand(page).sent()
    board.press('[data-floor="endSession"] button')
    board.choose("end-skin", "good")
    board.press("dialog button", "Yes, proven")
    Hand(page).sent()


def test_the_main_job_by_keyboard_alone(enter: Enter, therapist: Staff, ines: Episode) -> None:
    """Sign in, Today, a session on the Floor, sign out; each thing that is pressed is seen to have the focus."""
    page = enter()
    board = Keyboard(page)
    _comes_in(page, board, therapist)
    board.press(f'main a[href="/floor/{ines.pk}/"]')
    page.wait_for_url("**/floor/**")
    _one_session(page, board)
    board.press("a", "Today")
    page.wait_for_url(lambda address: "/floor/" not in address)
    page.wait_for_load_state("networkidle")  # the people of the day are taken along: whoever leaves first interrupts it
    board.press(".plate-who > summary")
    board.press("form[data-leaves] button", "Sign out")
    expect(page.get_by_role("heading", name="Sign in")).to_be_visible()
    assert [fact.get("name", fact["kind"]) for fact in recorded(ines)[1:]] == [
        "session_opened", "start_of_session", "attempt", "attempt", "mode_set", "lock_in", "mode_set", "lock_out",
        "end_of_session", "session_closed",
    ]  # fmt: skip  # one list, one look
    seen = recorded(ines, "attempt")[1]
    assert (seen["deviations"], list(seen["measures"])) == (["hollow_back"], ["load_share"])


def test_arrows_pass_over_a_key_and_record_nothing(enter: Enter, therapist: Staff, ines: Episode) -> None:
    """From walking to free swing the lock lies between: it is not in the record of who went past it."""
    page = enter(therapist, f"/floor/{ines.pk}/")
    hand, board = Hand(page), Keyboard(page)
    hand.start_check()
    board.reach('input[name="mode-knee"][value="walking"]')
    for passed in ("locked", "free_swing"):
        page.keyboard.press("ArrowRight")
        expect(page.locator(f'input[name="mode-knee"][value="{passed}"]')).to_be_focused()
    page.keyboard.press("ArrowLeft")
    expect(page.locator('input[name="mode-knee"][value="walking"]')).to_be_checked()
    hand.sent()
    assert recorded(ines, "mode_set") == []
    page.keyboard.press("Space")
    hand.sent()
    assert [fact["mode"] for fact in recorded(ines, "mode_set")] == ["locked"]


def test_escape_leaves_a_question_without_recording(enter: Enter, therapist: Staff, ines: Episode) -> None:
    page = enter(therapist, f"/floor/{ines.pk}/")
    Hand(page).start_check()
    page.get_by_role("button", name="Fall").click()
    page.keyboard.press("Escape")
    expect(page.get_by_role("dialog")).to_have_count(0)
    assert recorded(ines, "fall") == []
