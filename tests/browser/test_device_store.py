"""What a device keeps: nobody reads it past the programme, an empty battery does not take it, and signing out does."""

from __future__ import annotations

import random
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import BrowserType, Page, expect
from pytest_django.live_server_helper import LiveServer

from caseload.models import Episode
from clinic.staff.models import Staff
from tests.browser.conftest import Enter, sign_in, signs_out
from tests.browser.device_store import AS_VERSION_ONE, GROWN, IN_STORE, RAW
from tests.browser.floor_hands import Hand, recorded, send_now
from tests.browser.off_line_gym import Tablet
from tests.makers import a_check, a_person, a_therapist, ago, an_attempt, an_episode

pytestmark = pytest.mark.cut_off
ENTRIES = "**/api/v1/episodes/*/entries/"


@pytest.fixture
def runa() -> Staff:
    return a_therapist(name="Runa Achterling")


@pytest.fixture
def ines(runa: Staff) -> Episode:
    return an_episode(assigned_to=runa, person=a_person(given_name="Ines", family_name="Vartholm"))


@pytest.fixture
def tablet(
    browser_type: BrowserType, browser_type_launch_args: dict[str, Any], live_server: LiveServer, tmp_path: Path
) -> Iterator[Tablet]:
    """A browser with a profile on the disk, whose process can be killed."""
    args = browser_type_launch_args
    one = Tablet(browser_type, args, tmp_path / "tablet", live_server.url, random.Random(1))
    one.switch_on()
    yield one
    one.switch_off()


def cut(page: Page) -> None:
    """The server takes nothing any more."""
    page.context.route(ENTRIES, lambda route: route.abort())


def status(page: Page) -> Any:
    return page.locator("[data-floor-net]")


def secrets_of(episode: Episode) -> list[str]:
    """What would betray somebody: their names and number, and what they did."""
    person = episode.person
    return [person.family_name, person.second_identifier, person.number, "don_check", "start_of_session"]


def test_a_killed_browser_keeps_what_was_tapped_and_its_disk_tells_nothing(
    tablet: Tablet, runa: Staff, ines: Episode
) -> None:
    tablet.comes_in(runa)
    cut(tablet.page)
    hand = tablet.opens(ines)
    hand.start_check()
    hand.skill("don_check")
    hand.support("none")
    hand.result("safe")
    expect(status(tablet.page)).to_contain_text("3 not sent · kept on this tablet")
    raw = tablet.page.evaluate(RAW)
    assert runa.reference in raw
    assert [word for word in secrets_of(ines) if word in raw] == []
    tablet.dies("browser")
    files = [path.read_bytes() for path in tablet.profile.rglob("*IndexedDB*/**/*") if path.is_file()]
    assert any(runa.reference.encode() in one for one in files), "not where the browser keeps it"
    for word in secrets_of(ines):
        assert not any(word.encode() in one or word.encode("utf-16-le") in one for one in files), word
    if "/sign-in/" in tablet.page.goto("/").url:  # type: ignore[union-attr]  # a page was answered
        sign_in(tablet.page, runa)
    hand = tablet.opens(ines)  # with the network there again
    hand.sent()
    assert len(recorded(ines, "session_opened", "check", "attempt")) == 3


def test_signing_out_destroys_what_can_be_read_and_the_rest_reaches_the_record(
    enter: Enter, runa: Staff, ines: Episode
) -> None:
    page = enter(runa)
    cut(page)
    page.goto(f"/floor/{ines.pk}/")
    Hand(page).start_check()
    expect(status(page)).to_contain_text("2 not sent · kept on this tablet")
    before = page.evaluate(IN_STORE)
    assert (before["keys"], before["readable"], before["sealed"]) == (1, 2, 2)
    page.goto("/people/")
    assert signs_out(page, sure=True).startswith("2 marks of yours are not sent.")
    expect(page.get_by_role("heading", name="Sign in")).to_be_visible()
    assert page.evaluate(IN_STORE) == {"keys": 0, "pages": 0, "packs": 0, "readable": 0, "sealed": 2}
    with page.expect_response("**/api/v1/sealed/"):
        sign_in(page, runa)  # herself, with a new key: what she left waits for her there too
    page.goto("/waiting/")
    for tick in page.get_by_role("checkbox").all():
        tick.check()
    page.get_by_role("button", name="Record what is ticked under my name").click()
    expect(page.get_by_role("main")).to_contain_text("Nothing waits for you")
    assert [fact["by"] for fact in recorded(ines, "check")] == [runa.reference]
    assert page.evaluate(IN_STORE)["sealed"] == 0


def a_plain_row(staff: Staff, episode: Episode, entry: dict[str, Any]) -> dict[str, Any]:
    """As the first version of the store held it."""
    return {
        "id": entry["id"],
        "entry": entry,
        "staff": staff.reference,
        "staffName": staff.name,
        "episode": str(episode.pk),
        "person": episode.person.full_name,
        "state": "waiting",
        "error": None,
        "address": f"/api/v1/episodes/{episode.pk}/entries/",
    }


def test_rows_of_the_first_version_are_taken_over_encrypted_and_none_is_lost(
    enter: Enter, runa: Staff, ines: Episode
) -> None:
    page = enter(None, "/verify/")
    jorun = a_therapist(name="Jorun Wexthorn")
    own, other = an_attempt("don_check", "none", at=ago(minutes=3)), a_check(at=ago(minutes=9))
    page.evaluate(AS_VERSION_ONE, [a_plain_row(runa, ines, own), a_plain_row(jorun, ines, other)])
    cut(page)
    sign_in(page, runa)
    page.goto(f"/floor/{ines.pk}/")
    expect(status(page)).to_contain_text("1 not sent")
    raw = page.evaluate(RAW)
    assert own["id"] in raw
    assert [word for word in [*secrets_of(ines), "Wexthorn", "Achterling"] if word in raw] == []
    page.context.unroute(ENTRIES)
    send_now(page)
    expect(status(page)).to_have_text("all sent")
    assert [fact["id"] for fact in recorded(ines, "attempt")] == [own["id"]]
    assert recorded(ines, "check") == []
    assert jorun.sealed_marks.filter(mark=other["id"]).count() == 1  # the colleague's waits for the colleague


def test_beside_a_tab_of_a_newer_version_an_old_one_keeps_and_sends(enter: Enter, runa: Staff, ines: Episode) -> None:
    page = enter(runa)
    cut(page)
    page.goto(f"/floor/{ines.pk}/")
    hand = Hand(page)
    hand.start_check()
    expect(status(page)).to_contain_text("2 not sent · kept on this tablet")
    newer = page.context.new_page()
    newer.goto("/verify/")
    newer.evaluate(GROWN)
    hand.skill("don_check")
    hand.support("none")
    hand.result("safe")
    expect(status(page)).to_contain_text("3 not sent · kept on this tablet")
    page.reload()
    expect(status(page)).to_contain_text("3 not sent · kept on this tablet")
    page.context.unroute(ENTRIES)
    hand.sent()
    assert len(recorded(ines)) == 4  # opened, session, check, attempt


NO_CRYPTO = "Object.defineProperty(crypto, 'subtle', { value: undefined });"
NO_ROOM = """const put = IDBObjectStore.prototype.put;
IDBObjectStore.prototype.put = function (row, ...more) {
    if (this.name === "kept") throw new DOMException("full", "QuotaExceededError");
    return put.call(this, row, ...more); };"""


@pytest.mark.parametrize(
    ("broken", "why"), [(NO_CRYPTO, "this browser cannot encrypt"), (NO_ROOM, "this device is full")]
)
def test_what_cannot_be_kept_is_said_and_stays_in_the_page(
    enter: Enter, runa: Staff, ines: Episode, broken: str, why: str
) -> None:
    page = enter(runa)
    page.context.add_init_script(broken)
    cut(page)
    page.goto(f"/floor/{ines.pk}/")
    hand = Hand(page)
    hand.start_check()
    expect(status(page)).to_contain_text("2 not sent")
    expect(status(page)).to_contain_text("kept in this page only, do not close it")
    expect(status(page)).to_contain_text(why)
    page.context.unroute(ENTRIES)
    send_now(page)
    hand.sent()
    assert len(recorded(ines, "check")) == 1


AHEAD = "const real = Date.now; Date.now = () => real() + 600_000;"


def test_a_clock_that_is_wrong_is_said_and_remembered_without_a_network(
    enter: Enter, runa: Staff, ines: Episode
) -> None:
    page = enter(runa)
    page.context.add_init_script(AHEAD)
    page.goto(f"/floor/{ines.pk}/")
    said = page.locator("[data-floor-clock]")
    expect(said).to_contain_text("This tablet’s clock is 10 min fast")
    page.context.route("**/api/**", lambda route: route.abort())
    page.context.route("**/state/", lambda route: route.abort())
    page.reload()
    expect(said).to_contain_text("This tablet’s clock is 10 min fast")
    hand = Hand(page)
    hand.start_check()
    expect(status(page)).to_contain_text("2 not sent")
    page.context.unroute("**/api/**")
    page.context.unroute("**/state/")
    send_now(page)
    hand.sent()
    [check] = recorded(ines, "check")
    assert abs(check["clock_offset_s"] - 600) < 5
