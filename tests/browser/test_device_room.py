"""A device whose store is full, slow, broken or not promised to last: what is said of it, what becomes of a mark."""

from __future__ import annotations

import re

import pytest
from playwright.sync_api import Locator, Page, expect

from caseload.models import Episode
from clinic.staff.models import Staff
from tests.browser.conftest import Enter
from tests.browser.device_store import IN_STORE
from tests.browser.floor_hands import Hand, recorded, send_now
from tests.browser.looking import barriers
from tests.makers import a_person, a_therapist, an_episode

pytestmark = pytest.mark.cut_off
ENTRIES = "**/api/v1/episodes/*/entries/"
KEPT = "2 not sent · kept on this tablet"

# No row of `kept` has room, until the page lets go of its pages, or until the test makes room.
FULL = """globalThis.full = true;
const { put, clear } = IDBObjectStore.prototype;
IDBObjectStore.prototype.put = function (row, ...more) {
    if (this.name === "kept" && globalThis.full) throw new DOMException("full", "QuotaExceededError");
    return put.call(this, row, ...more); };"""
PAGES_ARE_ROOM = """IDBObjectStore.prototype.clear = function () {
    if (this.name === "pages") globalThis.full = false;
    return clear.call(this); };"""
BROKEN = """const { getAll } = IDBObjectStore.prototype;
IDBObjectStore.prototype.getAll = function (...asked) {
    if (this.name === "kept") throw new DOMException("broken", "UnknownError");
    return getAll.call(this, ...asked); };"""
# Another tab writes into `kept`, and whoever wants to read it waits until it is done.
HOLD = """() => new Promise((held) => { const opened = indexedDB.open("floor"); opened.onsuccess = () => {
    const kept = opened.result.transaction("kept", "readwrite").objectStore("kept");
    globalThis.writes = true;
    const on = () => { held(); if (globalThis.writes) kept.count().onsuccess = on; else opened.result.close(); };
    on(); }; })"""


@pytest.fixture
def runa() -> Staff:
    return a_therapist(name="Runa Achterling")


@pytest.fixture
def ines(runa: Staff) -> Episode:
    return an_episode(assigned_to=runa, person=a_person(given_name="Ines", family_name="Vartholm"))


@pytest.fixture
def page(enter: Enter, runa: Staff) -> Page:
    """Somebody who is signed in, and no mark reaches the server."""
    page = enter(runa)
    page.context.route(ENTRIES, lambda route: route.abort())
    return page


def status(page: Page) -> Locator:
    return page.locator("[data-floor-net]")


def start_check(page: Page, episode: Episode) -> Hand:
    page.goto(f"/floor/{episode.pk}/")
    hand = Hand(page)
    hand.start_check()
    return hand


def test_a_full_device_lets_go_of_its_pages_for_a_mark(page: Page, ines: Episode) -> None:
    page.context.add_init_script(FULL + PAGES_ARE_ROOM)
    start_check(page, ines)
    expect(status(page)).to_contain_text(KEPT)
    found = page.evaluate(IN_STORE)
    assert (found["readable"], found["pages"]) == (2, 0)
    page.reload()
    expect(status(page)).to_contain_text(KEPT)


def test_what_had_no_room_stays_in_view_and_is_kept_when_there_is_room(page: Page, ines: Episode) -> None:
    """Tried again without a tap; the list shows it all along."""
    page.context.add_init_script(FULL)
    hand = start_check(page, ines)
    expect(status(page)).to_contain_text("2 not sent · kept in this page only, do not close it: this device is full")
    expect(hand.facts.filter(has_text="Start check: good")).to_be_visible()
    assert page.evaluate(IN_STORE)["readable"] == 0
    page.evaluate("globalThis.full = false")
    expect(status(page)).to_contain_text(KEPT, timeout=10_000)
    expect(hand.facts.filter(has_text="Start check: good")).to_be_visible()
    assert page.evaluate(IN_STORE)["readable"] == 2
    page.context.unroute(ENTRIES)
    send_now(page)
    hand.sent()
    assert len(recorded(ines, "check")) == 1


def test_all_sent_is_said_only_after_looking(page: Page, ines: Episode) -> None:
    start_check(page, ines)
    expect(status(page)).to_contain_text(KEPT)
    other = page.context.new_page()
    other.goto("/verify/")
    other.evaluate(HOLD)
    page.reload()
    expect(status(page)).to_have_text("looking for what waits here")
    day_end = page.context.new_page()
    day_end.goto("/day-end/")
    expect(day_end.locator("[data-unsent-words]")).to_have_text("Looking for what waits on this device …")
    other.evaluate("globalThis.writes = false")
    expect(status(page)).to_contain_text(KEPT)
    expect(day_end.locator("[data-unsent-words]")).to_contain_text("2 of yours wait on this device.")


def test_a_store_that_cannot_be_read_is_not_taken_for_an_empty_one(page: Page, ines: Episode) -> None:
    page.context.add_init_script(BROKEN)
    page.goto(f"/floor/{ines.pk}/")
    expect(status(page)).to_contain_text("whether something waits here is not known")
    page.goto("/day-end/")
    expect(page.locator("[data-unsent-words]")).to_contain_text("whether something waits here is not known")


def promising(promise: str) -> str:
    return f"navigator.storage.persist = async () => globalThis.promised ?? {promise};"


def test_what_the_browser_has_promised_is_said_where_something_can_be_lost(page: Page, ines: Episode) -> None:
    page.context.add_init_script(promising("false"))
    page.goto("/day-end/")
    said, ask = (
        page.locator("[data-unsent-lasts]"),
        page.get_by_role("button", name="Ask the browser to keep it for certain"),
    )
    expect(page.locator("[data-unsent-words]")).to_contain_text("is sent.")
    expect(said).to_be_empty()
    expect(ask).to_be_hidden()
    start_check(page, ines)
    expect(status(page)).to_contain_text(KEPT)
    page.goto("/day-end/")
    expect(said).to_contain_text("Only when its disk is full may this browser clear it")
    expect(said).to_contain_text("install this app on it")
    assert barriers(page) == []
    ask.click()
    expect(said).to_contain_text(re.compile(r"Asked at \d\d:\d\d.*: it does not promise it."))
    page.evaluate("globalThis.promised = true")
    ask.click()
    expect(said).to_contain_text("has promised to keep what is on this device")
    expect(ask).to_be_hidden()


def test_a_browser_that_knows_no_promise_is_said_to(page: Page, ines: Episode) -> None:
    page.context.add_init_script("Object.defineProperty(navigator, 'storage', { value: undefined });")
    start_check(page, ines)
    expect(status(page)).to_contain_text(KEPT)
    page.goto("/day-end/")
    expect(page.locator("[data-unsent-lasts]")).to_contain_text("This browser makes no promise")
