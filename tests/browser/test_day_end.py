"""The end of the day in a real browser: what waits on this device, sending it from there, and one tap from Today."""

from __future__ import annotations

import re

import pytest
from playwright.sync_api import Page, Route, expect

from caseload.models import Episode
from clinic.staff.models import Staff
from tests.browser.conftest import Enter, signs_out
from tests.browser.device_store import IN_STORE
from tests.browser.floor_hands import Hand, recorded
from tests.browser.looking import barriers
from tests.makers import a_person, a_therapist, an_entry, an_episode
from tests.makers import recorded as written
from tests.web.test_today_page import a_visit

ENTRIES = "**/api/v1/episodes/*/entries/"
pytestmark = pytest.mark.cut_off


@pytest.fixture
def therapist() -> Staff:
    return a_therapist(name="Runa Achterling")


@pytest.fixture
def ines(therapist: Staff) -> Episode:
    episode = an_episode(assigned_to=therapist, person=a_person(given_name="Ines", family_name="Vartholm"))
    a_visit(episode, therapist)
    return episode


def refused(route: Route) -> None:
    """No way to the server."""
    route.abort()


def cut_off(enter: Enter, therapist: Staff, ines: Episode) -> Page:
    """The Floor with a start check that could not be sent."""
    page = enter(therapist)
    page.context.route(ENTRIES, refused)
    page.goto(f"/floor/{ines.pk}/")
    Hand(page).start_check()
    expect(page.locator("[data-floor-net]")).to_contain_text("2 not sent · kept on this tablet")
    return page


def test_what_waits_on_this_device_is_counted_by_person_and_sent_from_here(
    enter: Enter, therapist: Staff, ines: Episode
) -> None:
    page = cut_off(enter, therapist, ines)
    page.goto("/day-end/")
    unsent = page.locator("[data-unsent]")
    expect(unsent.locator("li")).to_have_count(1)
    expect(unsent.locator("li")).to_contain_text("Ines Vartholm")
    expect(unsent.locator("li")).to_contain_text("2 not sent")
    expect(unsent.get_by_role("link")).to_have_attribute("href", f"/floor/{ines.pk}/")
    expect(unsent.locator("[data-unsent-words]")).to_contain_text("The server is not in reach")
    assert recorded(ines, "check") == []
    unsent.get_by_role("button", name="Send now").click()
    expect(unsent.locator("[data-unsent-words]")).to_contain_text(re.compile(r"Tried at \d\d:\d\d"))
    page.context.unroute(ENTRIES)
    unsent.get_by_role("button", name="Send now").click()
    expect(unsent.locator("li")).to_have_count(0)
    expect(unsent.locator("[data-unsent-words]")).to_have_text("Everything that was recorded on this device is sent.")
    expect(unsent.get_by_role("button", name="Send now")).to_be_hidden()
    assert len(recorded(ines, "check")) == 1


def test_what_was_sent_stays_and_can_be_sent_again(enter: Enter, therapist: Staff, ines: Episode) -> None:
    page = enter(therapist, f"/floor/{ines.pk}/")
    hand = Hand(page)
    hand.start_check()
    hand.sent()
    page.goto("/day-end/")
    unsent = page.locator("[data-unsent]")
    expect(unsent.locator("[data-unsent-words]")).to_have_text("Everything that was recorded on this device is sent.")
    unsent.get_by_text("The server was put back from a backup?").click()
    expect(unsent).to_contain_text("2 marks that were sent from this device are still on it.")
    with page.expect_response(ENTRIES) as answer:
        unsent.get_by_role("button", name="Send again").click()
    assert [one["outcome"] for one in answer.value.json()["verdicts"]] == ["repeated", "repeated"]
    expect(unsent).to_contain_text("2 marks are on their way again")
    assert len(recorded(ines, "check")) == 1
    page.evaluate(_AGED, 31)
    page.reload()
    expect(unsent.locator("[data-unsent-words]")).to_have_text("Everything that was recorded on this device is sent.")
    expect(unsent.get_by_text("The server was put back from a backup?")).to_be_hidden()


_AGED = """(days) => new Promise((done) => { const opened = indexedDB.open("floor"); opened.onsuccess = () => {
    const kept = opened.result.transaction("kept", "readwrite").objectStore("kept"); const all = kept.getAll();
    all.onsuccess = () => all.result.forEach((row) => kept.put({ ...row, since: Date.now() - days * 86400000 }));
    kept.transaction.oncomplete = () => { opened.result.close(); done(); }; }; })"""


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("size", ["tablet", "tablet upright", "desk"])
def test_nobody_is_kept_out_and_each_line_is_a_target(
    enter: Enter, therapist: Staff, ines: Episode, size: str, scheme: str
) -> None:
    written(therapist, ines, an_entry("session_opened"), an_entry("mode_set", mode="locked"))
    page = enter(therapist, "/day-end/", size=size, color_scheme=scheme)
    expect(page.locator("[data-part=unproven] li")).to_have_count(2)
    assert barriers(page) == []
    assert _low(page, ".open-ends a, .evening .acts a:visible, .masthead a") == []


def test_one_tap_leads_from_a_person_on_today_to_their_floor(enter: Enter, therapist: Staff, ines: Episode) -> None:
    page = enter(therapist, "/")
    assert _low(page, ".go a") == []
    assert barriers(page) == []
    page.locator(".go a").click()
    expect(page).to_have_url(f"{page.url.split('/floor/')[0]}/floor/{ines.pk}/")


def _low(page: Page, where: str) -> list[str]:
    """What is smaller than a thumb: 48 px, either way."""
    boxes = [(one.inner_text(), one.bounding_box()) for one in page.locator(where).all()]
    assert boxes
    return [text for text, box in boxes if box is None or box["height"] < 48 or box["width"] < 48]


def two_unsent(enter: Enter, therapist: Staff, ines: Episode) -> Page:
    """Today, as whoever left the Floor without a signal finds it again."""
    page = cut_off(enter, therapist, ines)
    page.goto("/")
    expect(page.locator("[data-this-tablet]")).to_contain_text("2 not sent")
    return page


def test_what_waits_is_sent_from_today_once_the_server_is_back(enter: Enter, therapist: Staff, ines: Episode) -> None:
    page = two_unsent(enter, therapist, ines)
    expect(page.get_by_role("button", name="Send now")).to_be_visible()
    page.context.unroute(ENTRIES)
    expect(page.locator("[data-this-tablet]")).to_contain_text("all sent", timeout=10_000)  # tried again by itself
    assert len(recorded(ines, "session_opened", "check")) == 2
    page.get_by_role("link", name="Sent. Show the day as it is now").click()
    expect(page.locator("[data-this-tablet]")).to_contain_text("all sent")
    expect(page.locator("[data-this-tablet-do]")).to_have_text("")


def test_what_is_not_taken_is_not_said_to_be_sent(enter: Enter, therapist: Staff, ines: Episode) -> None:
    page = two_unsent(enter, therapist, ines)

    def refuse(route: Route) -> None:
        sent = (route.request.post_data_json or {})["entries"]
        verdicts = [{"id": one["id"], "outcome": "refused", "error": "no such skill", "alerts": []} for one in sent]
        route.fulfill(json={"verdicts": verdicts, "raised": []})

    page.context.unroute(ENTRIES)
    page.context.route(ENTRIES, refuse)
    page.get_by_role("button", name="Send now").click()
    expect(page.locator("[data-this-tablet]")).to_contain_text("2 not taken: see End of the day")
    expect(page.locator("[data-this-tablet-do]")).to_have_text("")


def test_whoever_would_sign_out_with_something_unsent_is_asked_first(
    enter: Enter, therapist: Staff, ines: Episode
) -> None:
    page = two_unsent(enter, therapist, ines)
    said = signs_out(page, sure=False)
    assert said.startswith("2 marks of yours are not sent. Today and End of the day send them")
    kept = page.evaluate(IN_STORE)
    assert (kept["keys"], kept["readable"]) == (1, 2)
    page.context.unroute(ENTRIES)
    expect(page.locator("[data-this-tablet]")).to_contain_text("all sent", timeout=10_000)
    asked: list[str] = []
    page.on("dialog", lambda dialog: asked.append(dialog.message))
    page.get_by_role("button", name="Sign out").click()
    expect(page.get_by_role("heading", name="Sign in")).to_be_visible()
    assert asked == [], "nothing is asked where all is sent"
