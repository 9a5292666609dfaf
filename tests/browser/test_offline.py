"""Without a network: the day's people are on the device, a session is recorded there, and nobody else reads it."""

from __future__ import annotations

import re
import time
from collections.abc import Iterator
from datetime import timedelta
from typing import Any

import pytest
from django.contrib.sessions.models import Session
from playwright.sync_api import Page, expect
from pytest_django.live_server_helper import LiveServer

from caseload.episode.models import Episode
from caseload.visit.models import Visit
from checklists.speed import gym, taps
from clinic.staff.models import Staff
from clinic.web import worker
from tests.browser.cable import Cable
from tests.browser.conftest import Enter, sign_in, signs_out
from tests.browser.floor_hands import Hand, recorded, send_now
from tests.makers import a_cover, a_person, a_prosthetist, a_therapist, ago, an_attempt, an_episode, now
from tests.makers import recorded as record

pytestmark = pytest.mark.cut_off
OF_A_PLAIN_PAGE = 25.0  # whatever else the machine does; on a quiet one it is 7
ROWS = """async ([store, field]) => {
    const database = await new Promise((resolve) => {
        const request = indexedDB.open("floor");
        request.onsuccess = () => resolve(request.result);
    });
    const rows = await new Promise((resolve) => {
        const request = database.transaction(store).objectStore(store).getAll();
        request.onsuccess = () => resolve(request.result);
    });
    database.close();
    return rows.map((row) => (field ? row[field] ?? null : Object.keys(row)));
}"""


@pytest.fixture
def therapist() -> Staff:
    return a_therapist(name="Runa Achterling")


@pytest.fixture
def ines(therapist: Staff) -> Episode:
    return of_today(therapist, "Ines", "Vartholm")


def of_today(therapist: Staff, given: str, family: str) -> Episode:
    """Somebody who comes today."""
    episode = an_episode(assigned_to=therapist, person=a_person(given_name=given, family_name=family))
    visit = {"starts_at": now() + timedelta(minutes=5), "minutes": 45}
    Visit.objects.create(episode=episode, site=episode.site, staff=therapist, **visit)
    return episode


@pytest.fixture
def tablet(enter: Enter, therapist: Staff, ines: Episode) -> Page:
    """Today, with everybody of today on the device, and the worker there."""
    page = enter(therapist, "/", service_workers="allow")
    on_device(page)
    return page


def test_today_says_in_one_line_what_this_tablet_keeps(tablet: Page) -> None:
    tablet.reload()
    said = tablet.locator("[data-this-tablet]")
    expect(said).to_have_text("This tablet: all sent, 1 person kept, works without a signal")


def on_device(page: Page) -> None:
    """Wait until Today says so, and until the worker answers."""
    until(page, "navigator.serviceWorker.controller !== null")
    expect(page.locator("[data-on-device]")).not_to_have_count(0)
    expect(page.locator("[data-along]:not([data-on-device])")).to_have_count(0)
    until(page, f"({ROWS})(['pages', 'address']).then((kept) => kept.includes('/day-end/'))")


def until(page: Page, true: str) -> None:
    """Ask the page again and again: its policy forbids Playwright's own way of waiting for an expression."""
    deadline = time.monotonic() + 20
    while not page.evaluate(true):
        assert time.monotonic() < deadline, true
        page.wait_for_timeout(50)


def kept(page: Page, store: str, field: str = "") -> list[Any]:
    """A field of each row of the device's store."""
    rows: list[Any] = page.evaluate(ROWS, [store, field])
    return rows


def opened(page: Page, episode: Episode) -> Hand:
    """The Floor, ready."""
    page.goto(f"/floor/{episode.pk}/")
    return ready(page)


def ready(page: Page) -> Hand:
    expect(page.locator("body[data-floor-ready]")).to_have_count(1)
    return Hand(page)


def attempt(hand: Hand, skill: str, support: str, result: str) -> None:
    hand.skill(skill)
    hand.support(support)
    hand.result(result)


@pytest.fixture
def cable(live_server: LiveServer) -> Iterator[Cable]:
    """Between the browser and the server: what a new page or a new worker cannot come around."""
    with Cable(live_server.url) as cable:
        yield cable


def test_a_whole_session_without_a_network(enter: Enter, therapist: Staff, ines: Episode, cable: Cable) -> None:
    """Start check, lock cycle, attempts, one of them against advice, a strike-out, a fall, end check; the page is
    loaded anew and closed in between."""
    tablet = enter(therapist, "/", service_workers="allow", base_url=cable.address)
    on_device(tablet)
    cable.pull()
    hand = opened(tablet, ines)
    hand.start_check()
    attempt(hand, "don_check", "none", "safe")
    tablet.reload()
    hand = ready(tablet)
    hand.set_mode("locked")
    hand.prove("straight", "caught", "loaded")
    attempt(hand, "stand_load", "bars_both", "safe")
    hand.set_mode("walking")
    hand.prove("released", "bends")
    page = tablet.context.new_page()
    tablet.close()
    hand = opened(page, ines)
    expect(page.locator(".kneebar-is-proven .kneebar-mode")).to_have_text("Walking")
    hand.skill("even_walk")
    hand.support("none")
    advice = page.locator("[data-floor-advice]")
    expect(advice.get_by_role("alert")).to_contain_text("Not yet")
    expect(page.locator("[data-result=stopped]")).to_be_disabled()
    hand.tap(hand.key("despite", "My judgement"))
    hand.result("stopped")
    attempt(hand, "stand_load", "bars_both", "unsafe")
    strike_newest(hand)
    hand.tap(page.get_by_role("button", name="Fall", exact=True))
    hand.tap(hand.key("during", "even_walk"))
    hand.tap(hand.key("injury", "none"))
    hand.tap(page.get_by_role("button", name="Record the fall"))
    hand.tap(page.get_by_role("button", name="Close session"))
    hand.tap(hand.key("end-skin", "good"))
    hand.tap(page.get_by_role("button", name="Yes, proven"))
    expect(page.locator("[data-floor-net]")).to_contain_text("kept on this tablet")
    assert len(recorded(ines)) == 1, "something was sent"
    cable.plug_in()
    send_now(page)
    hand.sent()
    assert [told(fact) for fact in recorded(ines)[1:]] == [
        ("session_opened", None, None),
        ("check", "start_of_session", None),
        ("attempt", "don_check", "safe"),
        ("mode_set", "locked", None),
        ("check", "lock_in", None),
        ("attempt", "stand_load", "safe"),
        ("mode_set", "walking", None),
        ("check", "lock_out", None),
        ("attempt", "even_walk", "stopped"),
        ("attempt", "stand_load", "unsafe"),
        ("struck_out", None, None),
        ("fall", "even_walk", None),  # the attempt that still stands: the last one was struck out
        ("check", "end_of_session", None),
        ("session_closed", None, None),
    ]
    against = [fact["despite"] for fact in recorded(ines, "attempt") if "despite" in fact]
    assert against == ["My judgement"]


def told(fact: dict[str, Any]) -> tuple[str, str | None, str | None]:
    return fact["kind"], fact.get("skill") or fact.get("name") or fact.get("mode"), fact.get("result")


def strike_newest(hand: Hand) -> None:
    before = hand.page.locator(".ledger > .struck").count()
    hand.tap(hand.page.locator(".undo-newest"))
    hand.tap(hand.page.get_by_role("dialog").get_by_role("button", name="Tapped by mistake"))
    expect(hand.page.locator(".ledger > .struck")).to_have_count(before + 1)


def test_what_a_strike_out_changes_is_said_at_once(tablet: Page, ines: Episode) -> None:
    """Without a network too: a lock that is not proven speaks against a step, until it is struck out."""
    tablet.context.set_offline(True)
    hand = opened(tablet, ines)
    hand.start_check()
    hand.set_mode("locked")
    hand.skill("stand_load")
    hand.support("bars_both")
    advice = tablet.locator("[data-floor-advice]")
    expect(advice).to_contain_text("Not yet")
    strike_newest(hand)
    expect(advice).to_contain_text("A step on the way")


def test_the_page_starts_from_the_devices_store(tablet: Page, ines: Episode) -> None:
    """On a processor four times slower, by what the plainest page takes there, off line too; in milliseconds it is in
    the bench, on a quiet machine."""
    tablet.context.set_offline(True)
    starts = gym.started(tablet, f"/floor/{ines.pk}/", rounds=2)
    print(f"\nthe Floor from the device's store, {taps.SLOWER} times slower: {starts}")
    assert starts.ratio < OF_A_PLAIN_PAGE
    tablet.goto("/")
    expect(tablet.locator(".as-of")).to_contain_text("From this tablet, as of")
    tablet.evaluate("scrollTo(0, document.body.scrollHeight)")
    expect(tablet.locator(".as-of")).to_be_in_viewport(ratio=1)
    tablet.goto(f"/people/{ines.pk}/")
    expect(tablet.get_by_role("heading", name="No connection")).to_be_visible()
    expect(tablet.get_by_role("link", name="Try again: People")).to_have_attribute("href", "")
    expect(tablet.get_by_role("link", name="Today, as this device keeps it")).to_be_visible()
    expect(tablet.get_by_text("Nobody signed you out")).to_be_visible()


def test_where_the_device_keeps_no_today_none_is_offered(enter: Enter) -> None:
    bench = enter(a_prosthetist(), "/bench/", service_workers="allow")
    until(bench, "navigator.serviceWorker.controller !== null")
    bench.context.set_offline(True)
    bench.goto("/bench/")
    expect(bench.get_by_role("link", name="Try again: Bench")).to_be_visible()
    expect(bench.get_by_role("link", name="Today")).to_have_count(0)
    bench.context.set_offline(False)
    expect(bench.get_by_role("heading", name="No connection")).to_have_count(0, timeout=10_000)


def test_each_tablet_shows_what_the_other_added(tablet: Page, enter: Enter, ines: Episode) -> None:
    first = opened(tablet, ines)
    first.start_check()
    first.sent()
    colleague = a_therapist(name="Jorun Wexthorn")
    a_cover(ines, colleague, start=ago(minutes=5), end=None)
    second = opened(enter(colleague, service_workers="allow"), ines)
    tablet.context.set_offline(True)
    attempt(first, "don_check", "none", "safe")
    attempt(second, "don_check", "none", "stopped")
    second.sent()
    expect(first.facts.filter(has_text="Jorun Wexthorn")).to_have_count(0)
    tablet.context.set_offline(False)
    first.sent()
    expect(first.facts.filter(has_text="by Jorun Wexthorn")).to_contain_text("stopped")
    expect(tablet.locator(".log [role=status].unseen")).to_contain_text("Jorun Wexthorn recorded:")
    attempt(second, "don_check", "none", "safe")
    second.sent()
    expect(second.facts.filter(has_text="by Runa Achterling")).to_have_count(3)
    assert [fact["result"] for fact in recorded(ines, "attempt")] == ["safe", "stopped", "safe"]


def test_signing_out_without_a_network_leaves_nothing_to_read(tablet: Page, ines: Episode, therapist: Staff) -> None:
    tablet.context.set_offline(True)
    opened(tablet, ines).start_check()
    expect(tablet.locator("[data-floor-net]")).to_contain_text("kept on this tablet")
    tablet.goto("/")
    signs_out(tablet, sure=True)
    expect(tablet.get_by_role("heading", name="You are signed out on this device")).to_be_visible()
    assert [kept(tablet, store) for store in ("keys", "pages", "packs")] == [[], [], []]
    rows = kept(tablet, "kept")
    assert len(rows) == 2
    assert all("sealed" in fields and "box" not in fields for fields in rows)
    tablet.goto(f"/floor/{ines.pk}/")
    expect(tablet.get_by_role("heading", name="You are signed out on this device")).to_be_visible()
    assert _signed_in(therapist) == 1
    tablet.context.set_offline(False)
    tablet.goto("/")
    expect(tablet).to_have_url(re.compile("/sign-in/"))
    assert _signed_in(therapist) == 0


def _signed_in(staff: Staff) -> int:
    found = [row.get_decoded() for row in Session.objects.all()]
    return sum(1 for data in found if data.get("_auth_user_id") == str(staff.pk))


def test_nobody_is_shown_somebody_elses_pages(tablet: Page, ines: Episode) -> None:
    other = a_therapist(name="Jorun Wexthorn")
    tablet.context.clear_cookies()
    sign_in(tablet, other)
    until(tablet, f"({ROWS})(['keys', 'staff']).then((of) => of[0] === '{other.reference}')")
    tablet.context.set_offline(True)
    tablet.goto(f"/floor/{ines.pk}/")
    expect(tablet.get_by_role("heading", name="No connection")).to_be_visible()
    assert [address for address in kept(tablet, "pages", "address") if "/floor/" in address] == []


def test_only_pages_that_may_be_kept_are_kept(tablet: Page, ines: Episode) -> None:
    for address in ("/alerts/", "/sessions/", "/floor/00000000-0000-0000-0000-000000000000/", "/people/?closed"):
        tablet.goto(address)
    Session.objects.all().delete()
    tablet.goto(f"/people/{ines.pk}/")
    expect(tablet).to_have_url(re.compile("/sign-in/"))
    assert set(kept(tablet, "pages", "address")) == {"/", "/day-end/", f"/floor/{ines.pk}/"}
    assert {tuple(sorted(fields)) for fields in kept(tablet, "pages")} == {("address", "box", "iv", "kept_at", "staff")}
    caches = tablet.evaluate(
        """async () => (await Promise.all((await caches.keys()).map(async (name) =>
            (await (await caches.open(name)).keys()).map((request) => new URL(request.url).pathname)))).flat()"""
    )
    assert {path for path in caches if not path.startswith("/static/")} == {"/no-signal/", "/left/"}


def test_a_new_version_drops_nothing_that_waits(tablet: Page, ines: Episode, monkeypatch: pytest.MonkeyPatch) -> None:
    tablet.context.set_offline(True)
    hand = opened(tablet, ines)
    hand.start_check()
    expect(tablet.locator("[data-floor-net]")).to_contain_text("2 not sent")
    before = sorted(kept(tablet, "kept", "id"))
    tablet.route("**/entries/", lambda route: route.abort())
    tablet.context.set_offline(False)
    files = worker.files()
    monkeypatch.setattr(worker, "files", lambda: worker.Files(files.addresses, "0" * 16))
    tablet.evaluate("navigator.serviceWorker.getRegistration().then((one) => one.update()).then(() => null)")
    until(tablet, "caches.has('files-0000000000000000')")
    until(
        tablet,
        "navigator.serviceWorker.getRegistration().then((one) => !one.installing && !one.waiting && !!one.active)",
    )
    assert sorted(kept(tablet, "kept", "id")) == before
    tablet.context.set_offline(True)
    tablet.reload()
    hand = ready(tablet)
    expect(tablet.locator("[data-floor-net]")).to_contain_text("2 not sent")
    tablet.unroute("**/entries/")
    tablet.context.set_offline(False)
    hand.sent()
    assert len(recorded(ines, "check")) == 1


def test_today_fetches_only_what_changed(tablet: Page, ines: Episode, therapist: Staff) -> None:
    other = of_today(therapist, "Corin", "Ashgrove")
    tablet.reload()
    on_device(tablet)
    record(therapist, other, an_attempt("don_check", "none", at=now()))
    asked: list[str] = []
    tablet.on("request", lambda request: asked.append(request.url.partition(str(8000))[2] or request.url))
    tablet.reload()
    on_device(tablet)
    tablet.wait_for_load_state("networkidle")
    pages = [url for url in asked if "/floor/" in url and "static" not in url]
    assert len(pages) == 1
    assert str(other.pk) in pages[0]


def test_it_can_be_installed(tablet: Page) -> None:
    """The browser reads the manifest without a fault, and finds our own icons behind it."""
    session = tablet.context.new_cdp_session(tablet)
    read = session.send("Page.getAppManifest")
    assert read["errors"] == []
    told = tablet.evaluate("fetch('/manifest.webmanifest').then((answer) => answer.json())")
    assert (told["start_url"], told["display"]) == ("/", "standalone")
    for icon in [one for one in told["icons"] if one["type"] == "image/png"]:
        size = tablet.evaluate(
            "(address) => fetch(address).then((it) => it.blob()).then(createImageBitmap).then((it) => it.width)",
            icon["src"],
        )
        assert icon["sizes"] == f"{size}x{size}"
