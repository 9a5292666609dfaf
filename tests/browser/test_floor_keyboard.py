"""A whole session with the keyboard alone: Tab to get there, Space to choose, Enter to press."""

from __future__ import annotations

import pytest
from playwright.sync_api import Page, expect

from clinic.staff.models import Staff
from tests.browser.conftest import Enter
from tests.browser.floor_hands import START, Hand, recorded
from tests.makers import a_therapist, an_episode

MOST = 90  # steps of the focus from one end of the page to the other


@pytest.fixture
def therapist() -> Staff:
    return a_therapist()


def reach(page: Page, selector: str) -> None:
    """Tab on until the focus stands on what is meant; in a group of radio buttons the arrows go on."""
    for _ in range(MOST):
        if page.evaluate("(selector) => document.activeElement?.matches(selector) ?? false", selector):
            return
        if page.evaluate(_SAME_GROUP, selector):
            page.locator(selector).focus()  # the arrows choose as they go: Space on the one that is meant is the same
            return
        page.keyboard.press("Tab")
    pytest.fail(f"the keyboard never reaches {selector}")


_SAME_GROUP = """(selector) => {
    const here = document.activeElement, there = document.querySelector(selector);
    return here?.type === "radio" && there?.type === "radio" && here.name === there.name;
}"""


def press(page: Page, selector: str, key: str = "Space") -> None:
    reach(page, selector)
    focused = page.evaluate(
        "getComputedStyle(document.activeElement.nextElementSibling ?? document.activeElement).outlineStyle"
    )
    own = page.evaluate("getComputedStyle(document.activeElement).outlineStyle")
    assert "solid" in (focused, own), f"nothing shows that the focus stands on {selector}"
    page.keyboard.press(key)


def test_a_session_by_keyboard_alone(enter: Enter, therapist: Staff) -> None:
    ines = an_episode(assigned_to=therapist)
    page = enter(therapist, f"/floor/{ines.pk}/")
    hand = Hand(page)
    for step in START:
        press(page, f'input[name="start-{step}"][value="good"]')
    expect(page.locator(".kneebar-is-proven")).to_be_visible()
    press(page, 'input[name="skill"][value="don_check"]')
    press(page, 'input[name="support"][value="none"]')
    expect(page.locator("[data-result=safe]")).to_be_enabled()
    press(page, "[data-result=safe]", "Enter")
    hand.sent()
    press(page, 'input[name="mode-knee"][value="locked"]')
    for step in ("straight", "caught", "loaded"):
        press(page, f'.prove input[value="{step}"]')
    expect(page.locator(".kneebar-is-proven .kneebar-mode")).to_have_text("Locked")
    press(page, 'input[name="mode-knee"][value="walking"]')
    for step in ("released", "bends"):
        press(page, f'.prove input[value="{step}"]')
    hand.sent()
    press(page, '[data-floor="endSession"] button', "Enter")
    press(page, "dialog .act-main", "Enter")
    hand.sent()
    kinds = [fact["kind"] for fact in recorded(ines)[1:]]
    assert kinds == [
        "session_opened",
        "check",
        "attempt",
        "mode_set",
        "check",
        "mode_set",
        "check",
        "check",
        "session_closed",
    ]


def test_escape_leaves_a_question_without_recording(enter: Enter, therapist: Staff) -> None:
    ines = an_episode(assigned_to=therapist)
    page = enter(therapist, f"/floor/{ines.pk}/")
    Hand(page).start_check()
    page.get_by_role("button", name="Fall").click()
    page.keyboard.press("Escape")
    expect(page.get_by_role("dialog")).to_have_count(0)
    assert recorded(ines, "fall") == []
