"""One free hand on the Floor: taps as a person taps, and counts them."""

from __future__ import annotations

from collections.abc import Sequence
from contextlib import suppress
from typing import Any

import orjson
from playwright.sync_api import Locator, Page, expect
from playwright.sync_api import TimeoutError as TooLate

from caseload.models import Episode
from checklists.record.models import EntryContent

START = ("skin", "fit", "footwear", "mode")


class Hand:
    """Taps on one Floor page. `taps` counts them."""

    def __init__(self, page: Page) -> None:
        self.page = page
        self.taps = 0

    def tap(self, what: Locator) -> None:
        """One tap on something that can be seen."""
        what.click()
        self.taps += 1

    def key(self, name: str, value: str) -> Locator:
        """A key by the name and value of its input."""
        return self.page.locator(f'input[name="{name}"][value="{value}"]')

    def start_check(self, *, bad: Sequence[str] = ()) -> None:
        """The four taps of the start check."""
        for step in START:
            self.tap(self.key(f"start-{step}", "bad" if step in bad else "good"))

    def skill(self, skill: str) -> None:
        """Choose a skill: in the plan, behind 'Change' where a warning folds the plan, or behind 'All skills'."""
        shown = self.key("skill", skill)
        change = self.page.locator(".plan-change")
        if change.is_visible() and not shown.locator("visible=true").count():
            self.tap(change)
        if not shown.count():
            self.tap(self.page.get_by_role("button", name="All 25 skills"))
            shown = self.key("all-skills", skill)
        try:
            shown.click(timeout=2_000)
        except TooLate:  # a plan folds in the picture after a tap, and this one did since it was looked at
            self.tap(change)
            shown.click()
        self.taps += 1

    def support(self, rung: str) -> None:
        """Choose a support, and wait until the advice is there."""
        self.tap(self.key("support", rung))

    def result(self, result: str) -> None:
        """The tap that records."""
        button = self.page.locator(f'[data-result="{result}"]')
        expect(button).to_be_enabled()
        self.tap(button)

    def slide(self, foot: int, percent: float) -> None:
        """One tap on the slider of a scale, so far along it."""
        slider = self.page.locator(".scale-slider").nth(foot)
        box = slider.bounding_box()
        assert box is not None
        slider.click(position={"x": box["width"] * percent / 100, "y": box["height"] / 2})
        self.taps += 1

    def set_mode(self, mode: str, knee: str = "knee") -> None:
        """I have set the knee to …"""
        self.tap(self.key(f"mode-{knee}", mode))

    def prove(self, *steps: str) -> None:
        """Each step of a proof is its own tap."""
        for step in steps:
            self.tap(self.page.locator(f'.prove input[value="{step}"]').locator("visible=true"))

    def sent(self) -> None:
        """Wait until everything is in the server's hands."""
        expect(self.page.locator("[data-floor-net]")).to_have_text("all sent")

    @property
    def facts(self) -> Locator:
        """The list of this session."""
        return self.page.locator(".ledger > li")


def send_now(page: Page) -> None:
    """The key for it, where the page has not found out by itself that the server is back."""
    key, all_sent = page.get_by_role("button", name="Send now"), page.get_by_text("all sent", exact=True)
    for _ in range(20):
        if all_sent.is_visible():
            return
        with suppress(TooLate):
            key.click(timeout=500)


def recorded(episode: Episode, *kinds: str) -> list[dict[str, Any]]:
    """The facts of the record in the order in which they happened; of these kinds where some are named."""
    rows = EntryContent.objects.filter(entry__episode=episode).order_by("entry__at", "entry__number")
    facts = [orjson.loads(body) for body in rows.values_list("body", flat=True)]
    return [fact for fact in facts if fact["kind"] in kinds] if kinds else facts
