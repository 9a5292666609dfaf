"""A tablet of the gym at the end of a cable, the acts of a session on it, and what may happen to it in between."""

from __future__ import annotations

import contextlib
import os
import random
import signal
import time
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, NamedTuple

from playwright.sync_api import BrowserContext, BrowserType, Page, ViewportSize, expect

from caseload.models import Episode
from clinic.staff.models import Staff
from tests.browser.conftest import sign_in
from tests.browser.floor_hands import Hand
from tests.browser.looking import SIZES

WAYS = ("reload", "page", "browser")  # in which a page dies
PATIENCE = 15  # seconds until a page must be there, and a fact in the list: of a machine that does other things too
LIST = """() => [
    document.querySelectorAll(".ledger > li[data-fact]").length,
    document.querySelectorAll(".ledger > .struck").length,
    document.querySelector("[data-floor-net]").textContent,
]"""


class Shown(NamedTuple):
    """What the list of the session shows: how many facts, how many of them struck out, and where they are."""

    facts: int
    struck: int
    where: str

    def has_more_than(self, before: Shown) -> bool:
        return self[:2] > before[:2]

    @property
    def is_kept(self) -> bool:
        return self.where.strip() == "all sent" or "kept on this tablet" in self.where


def shown(hand: Hand) -> Shown:
    return Shown(*hand.page.evaluate(LIST))


@dataclass
class Tablet:
    """One browser profile, whose process can die under it."""

    browser: BrowserType
    launch: Mapping[str, Any]
    profile: Path
    address: str
    chance: random.Random
    page: Page = field(init=False)
    kills: dict[str, int] = field(default_factory=lambda: dict.fromkeys(WAYS, 0))
    kept_then: int = 0  # facts that the tablet had said it keeps, at each kill
    _context: BrowserContext = field(init=False)

    def switch_on(self) -> None:
        """Start the browser on the profile that it had before."""
        width, height = SIZES["tablet"]
        size = ViewportSize(width=width, height=height)
        self._context = self.browser.launch_persistent_context(
            self.profile,
            base_url=self.address,
            locale="en-GB",
            reduced_motion="reduce",  # a tap waits until what it taps stands still: the day is long enough
            viewport=size,
            **self.launch,
        )
        self._context.set_default_timeout(PATIENCE * 1000)
        self.page = self._context.pages[0] if self._context.pages else self._context.new_page()

    def switch_off(self) -> None:
        """As somebody does who is done."""
        with contextlib.suppress(Exception):  # a browser that was killed has nothing left to close
            self._context.close()

    def comes_in(self, staff: Staff) -> None:
        """Through the door, to Today; everybody of today is on the device before the cable is pulled."""
        sign_in(self.page, staff)
        if not self.page.url.endswith("/"):
            self.page.goto("/")

    def opens(self, episode: Episode) -> Hand:
        """The person's Floor, past the question who stands here."""
        self.page.goto(f"/floor/{episode.pk}/", wait_until="load")
        confirmed = self.page.get_by_role("button", name=f"Yes, this is {episode.person.full_name}")
        ready = self.page.get_by_role("button", name="Fall", exact=True)
        expect(confirmed.or_(ready).first).to_be_visible(timeout=PATIENCE * 1000)
        if confirmed.is_visible():
            confirmed.click()
        expect(self.page.locator("body[data-floor-ready]")).to_have_count(1, timeout=PATIENCE * 1000)
        return Hand(self.page)

    def dies(self, how: str) -> None:
        """The page is loaded anew, closed, or the whole browser is killed as by an empty battery."""
        self.kills[how] += 1
        if how == "page":
            old, self.page = self.page, self._context.new_page()
            old.close()
        elif how == "browser":
            for process in _processes_of(self.profile):
                with contextlib.suppress(ProcessLookupError):
                    os.kill(process, signal.SIGKILL)
            self.switch_off()
            (self.profile / "SingletonLock").unlink(missing_ok=True)
            self.switch_on()


def _processes_of(profile: Path) -> Iterator[int]:
    """The browser's own process for a profile; its children die with it."""
    wanted = f"--user-data-dir={profile}".encode()
    for folder in Path("/proc").iterdir():
        with contextlib.suppress(OSError, ValueError):
            if wanted in (folder / "cmdline").read_bytes().split(b"\0"):
                yield int(folder.name)


Act = Callable[[Hand], None]


def start(hand: Hand) -> None:
    hand.start_check()


def attempt(skill: str, support: str, result: str) -> Act:
    """One attempt; against advice where there is any, with a reason."""

    def act(hand: Hand) -> None:
        hand.skill(skill)
        hand.support(support)
        safe = hand.page.locator("[data-result=safe]")
        reason = hand.key("despite", "My judgement").locator("visible=true")
        expect(hand.page.locator("[data-result=safe]:enabled").or_(reason).first).to_be_visible(timeout=PATIENCE * 1000)
        if not safe.is_enabled():
            hand.tap(reason)
        hand.result(result)

    return act


def mode(value: str) -> Act:
    return lambda hand: hand.set_mode(value)


def proof(*steps: str) -> Act:
    return lambda hand: hand.prove(*steps)


def fall(hand: Hand) -> None:
    """While something was tried: a page that came back has no skill chosen."""
    hand.skill("stand_load")
    hand.tap(hand.page.get_by_role("button", name="Fall", exact=True))
    hand.tap(hand.key("during", "stand_load"))
    hand.tap(hand.key("injury", "none"))
    hand.tap(hand.page.get_by_role("button", name="Record the fall"))


def strike(hand: Hand) -> None:
    """The newest attempt was not so."""
    hand.tap(hand.page.locator(".undo-newest"))
    hand.tap(hand.page.get_by_role("dialog").get_by_role("button", name="Wrong result"))


def end(hand: Hand) -> None:
    hand.tap(hand.page.get_by_role("button", name="Close session"))
    hand.tap(hand.key("end-skin", "good"))
    hand.tap(hand.page.get_by_role("button", name="Yes, proven"))


def a_session(chance: random.Random) -> list[tuple[str, Act]]:
    """What one person does today, each act with its name: no two sessions alike."""
    tries = [
        ("attempt", attempt(*chance.choice([("don_check", "none"), ("stand_load", "bars_both")]), "safe")),
        ("attempt", attempt("stand_load", "bars_both", chance.choice(["safe", "stopped", "unsafe"]))),
    ]
    lock = [
        ("mode", mode("locked")),
        ("proof", proof("straight", "caught", "loaded")),
        ("attempt", attempt("stand_load", "bars_both", "safe")),
        ("mode", mode("walking")),
        ("proof", proof("released", "bends")),
    ]
    middle = [tries, lock] if chance.random() < 0.5 else [lock, tries]
    acts = [("start", start), *middle[0], *middle[1]]
    against = [("attempt", attempt("even_walk", "none", "stopped"))] if chance.random() < 0.5 else []
    stumble = [("fall", fall)] if chance.random() < 0.4 else []
    struck: list[tuple[str, Act]] = [("attempt", attempt("don_check", "none", "unsafe")), ("strike", strike)]
    return [*acts, *against, *struck, *stumble, ("end", end)]


def perform(tablet: Tablet, episode: Episode, session: list[tuple[str, Act]], *, kills: float = 0.0) -> None:
    """A whole session; `kills`: how likely one is, after an act and in the middle of it.

    What the tablet says that it keeps must be there afterwards. Of what it had not said that, whoever comes back looks
    at the list first: what stands there is not done again.
    """
    hand, chance = tablet.opens(episode), tablet.chance
    for _, act in session:
        before = said = shown(hand)
        while not said.has_more_than(before):
            act(hand)
            in_the_middle = chance.random() < kills
            if not in_the_middle:
                said = _kept(hand, before)
            if in_the_middle or chance.random() < kills:
                tablet.dies(chance.choice(WAYS))
                hand = tablet.opens(episode)
                found = shown(hand)
                tablet.kept_then += said.facts
                assert found[:2] >= said[:2], f"{said} before it was killed, {found} after"
                said = found


def _kept(hand: Hand, before: Shown) -> Shown:
    """Wait until more stands in the list than before, and the tablet says that it is kept."""
    deadline = time.monotonic() + PATIENCE
    while not ((now := shown(hand)).has_more_than(before) and now.is_kept):
        assert time.monotonic() < deadline, (before, now)
        hand.page.wait_for_timeout(20)
    return now
