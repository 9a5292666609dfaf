"""Every state of the Floor, one after the other, in one session."""

from __future__ import annotations

from collections.abc import Iterator

from playwright.sync_api import Page, expect

from tests.browser.floor_hands import Hand


def states(hand: Hand) -> Iterator[str]:
    """Goes through the states of the page; yields the name of each while it stands there."""
    page = hand.page
    yield "start check"
    hand.start_check(bad=["skin"])
    expect(page.get_by_role("alert").first).to_contain_text("no weight on this socket")
    yield "start check, not good"
    hand.tap(page.get_by_role("button", name="Check again"))
    hand.start_check()
    yield "nothing chosen"
    yield from _an_attempt(hand)
    yield from _numbers(hand)
    yield from _against_advice(hand)
    yield from _the_knee(hand)
    yield from _questions(hand)


def _an_attempt(hand: Hand) -> Iterator[str]:
    hand.skill("stand_load")
    yield "a skill"
    hand.support("bars_both")
    expect(hand.page.locator("[data-floor-advice]")).to_contain_text("A step on the way")
    yield "go ahead"
    hand.slide(0, 40)
    hand.slide(1, 50)
    hand.tap(hand.page.get_by_role("button", name="Start: Held"))
    yield "scales and stopwatch"
    hand.result("safe")
    hand.result("unsafe")
    yield "recorded"


def _numbers(hand: Hand) -> Iterator[str]:
    hand.tap(hand.page.get_by_role("button", name="Key in: two scales"))
    yield "keys for numbers"
    _leave(hand.page)
    hand.skill("short_steps")
    hand.tap(hand.page.get_by_role("button", name="Steps +5"))
    hand.tap(hand.page.get_by_role("button", name="Lap: Steps"))
    yield "counter"


def _against_advice(hand: Hand) -> Iterator[str]:
    hand.support("none")
    expect(hand.page.get_by_role("alert").filter(has_text="Not yet").first).to_be_visible()
    yield "against advice"


def _the_knee(hand: Hand) -> Iterator[str]:
    hand.set_mode("locked")
    expect(hand.page.locator(".kneebar-is-set")).to_be_visible()
    yield "a lock to prove, against advice"
    hand.prove("straight", "caught", "loaded")
    yield "locked"
    hand.set_mode("walking")
    hand.prove("released")
    yield "half proven"
    hand.prove("bends")


def _questions(hand: Hand) -> Iterator[str]:
    page = hand.page
    for name in ("Undo", "All 25 skills", "Other things seen", "Fall", "Near miss", "Close session", "hand, sound"):
        if name == "All 25 skills" and page.locator(".plan-change").is_visible():
            hand.tap(page.locator(".plan-change"))
        if name == "Other things seen":
            hand.support("bars_both")
        hand.tap(page.get_by_role("button", name=name))
        expect(page.get_by_role("dialog")).to_be_visible()
        yield f"question: {name}"
        _leave(page)


def _leave(page: Page) -> None:
    page.keyboard.press("Escape")
    expect(page.get_by_role("dialog")).to_have_count(0)
