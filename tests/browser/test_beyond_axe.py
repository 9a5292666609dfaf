"""Criteria of WCAG 2.2 that no rule of axe can judge, as somebody meets them; clinic/guide/WCAG.md names each."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime, timedelta

import pytest
from django.conf import settings
from django.contrib.sessions.backends.db import SessionStore
from django.contrib.sessions.models import Session
from playwright.sync_api import Browser, Page, expect
from pytest_django.live_server_helper import LiveServer

from caseload.models import Episode
from clinic import clock
from clinic.staff.models import Staff
from tests.browser.conftest import Enter, sign_in
from tests.browser.floor_hands import Hand, recorded
from tests.browser.walking import inside
from tests.makers import (
    PASSWORD,
    a_code,
    a_lead,
    a_person,
    a_records_officer,
    a_therapist,
    ago,
    an_attempt,
    an_entry,
    an_episode,
)
from tests.makers import recorded as record

ROUND = """() => {
    const takes = "a[href], button, input, select, textarea, summary, [tabindex]";
    const here = document.activeElement;
    if (!here || here === document.body) return null;
    return [...document.querySelectorAll(takes)].indexOf(here);
}"""


@pytest.fixture
def therapist() -> Staff:
    return a_therapist(name="Runa Achterling")


@pytest.fixture
def ines(therapist: Staff) -> Episode:
    episode = an_episode(assigned_to=therapist, person=a_person(given_name="Ines", family_name="Vartholm"))
    record(therapist, episode, an_attempt("sit_stand", at=ago(minutes=20)))
    return episode


@pytest.fixture
def page(browser: Browser, live_server: LiveServer, therapist: Staff) -> Iterator[Page]:
    """The therapist's, signed in."""
    with inside(browser, live_server.url, therapist) as context:
        yield context.new_page()


def stops(page: Page, most: int = 250) -> list[int]:
    """Where Tab stands, one after the other, until it leaves the page: places in the order of the document."""
    page.evaluate("document.activeElement?.blur()")
    found: list[int] = []
    for _ in range(most):
        page.keyboard.press("Tab")
        at = page.evaluate(ROUND)
        if at is None:
            return found
        found.append(at)
    pytest.fail("Tab never comes to the end of the page")


@pytest.mark.parametrize("address", ["/", "/people/{}/", "/floor/{}/", "/people/{}/plan/"])
def test_tab_goes_once_round_in_the_order_of_reading(page: Page, ines: Episode, address: str) -> None:
    page.goto(address.format(ines.pk))
    page.wait_for_timeout(500)  # the Floor's script puts its keys there
    where = stops(page)
    assert len(where) > 5
    assert where == sorted(where), "the focus jumps"
    assert len(where) == len(set(where)), "the focus comes twice to the same"


def test_the_first_tab_leads_past_the_ways(page: Page, ines: Episode) -> None:
    page.goto("/people/")
    page.keyboard.press("Tab")
    expect(page.locator(":focus")).to_have_attribute("href", "#main")
    page.keyboard.press("Enter")
    page.keyboard.press("Tab")
    assert page.evaluate("document.querySelector('main').contains(document.activeElement)")


def test_a_person_is_found_in_more_than_one_way(page: Page, ines: Episode) -> None:
    page.goto("/people/")
    expect(page.get_by_role("link", name="Ines Vartholm").first).to_be_visible()  # the list
    page.get_by_label("Name, number").fill("Vartholm")
    page.get_by_role("button", name="Find").click()
    page.get_by_role("link", name="Ines Vartholm").first.click()
    expect(page.get_by_role("heading", level=1)).to_have_text("Ines Vartholm")


def test_fields_about_oneself_say_what_they_are_for(enter: Enter) -> None:
    page = enter(None, "/sign-in/")
    expect(page.get_by_label("Sign-in name")).to_have_attribute("autocomplete", "username")
    expect(page.get_by_label("Password", exact=True)).to_have_attribute("autocomplete", "current-password")


def test_password_and_code_may_be_pasted_and_filled_in_by_the_browser(enter: Enter, therapist: Staff) -> None:
    """Nothing has to be remembered or copied out by hand; a passkey needs neither (test_passkeys.py)."""
    page = enter(None, "/sign-in/")
    page.get_by_label("Sign-in name").fill(therapist.username)
    _paste(page, "Password", PASSWORD)
    page.get_by_role("button", name="Sign in", exact=True).click()
    expect(page.get_by_label("Code", exact=True)).to_have_attribute("autocomplete", "one-time-code")
    _paste(page, "Code", a_code(therapist))
    page.get_by_role("button", name="Sign in", exact=True).click()
    page.wait_for_url(lambda address: "/sign-in/" not in address)


def _paste(page: Page, label: str, text: str) -> None:
    """As from the clipboard: the page is asked whether it minds, then the text stands there at once."""
    field = page.get_by_label(label, exact=True)
    field.focus()
    minded = field.evaluate(
        """(field) => !field.dispatchEvent(new ClipboardEvent("paste", { bubbles: true, cancelable: true,
            clipboardData: new DataTransfer() }))"""
    )
    assert not minded, "the page keeps what was pasted out"
    page.keyboard.insert_text(text)
    expect(field).to_have_value(text)


def test_a_finger_that_slides_off_records_nothing(page: Page, ines: Episode) -> None:
    page.goto(f"/floor/{ines.pk}/")
    hand = Hand(page)
    hand.start_check()
    hand.skill("sit_stand")
    hand.support("bars_both")
    safe = page.locator('[data-result="safe"]')
    expect(safe).to_be_enabled()
    box = safe.bounding_box()
    assert box is not None
    page.mouse.move(box["x"] + 20, box["y"] + 20)
    page.mouse.down()
    page.mouse.move(box["x"] + 20, box["y"] - 200)
    page.mouse.up()
    hand.sent()
    assert len(recorded(ines, "attempt")) == 1, "only the one from before"


def test_choosing_sends_nothing(browser: Browser, live_server: LiveServer) -> None:
    """Choices wait for the button beside them."""
    with inside(browser, live_server.url, a_records_officer()) as context:
        page = context.new_page()
        page.goto("/trail/")
        for field in page.locator("main select").all():
            field.select_option(index=1)
        page.wait_for_timeout(200)
        assert page.url.endswith("/trail/")


def test_a_refusal_says_what_would_be_taken(browser: Browser, live_server: LiveServer) -> None:
    with inside(browser, live_server.url, a_lead()) as context:
        page = context.new_page()
        page.goto("/staff/add/")
        page.get_by_label("E-mail").fill("nobody")
        page.evaluate("document.querySelector('main form').noValidate = true")
        page.locator("main form .act-main").click()
        field = page.get_by_label("E-mail")
        expect(field).to_have_attribute("aria-invalid", "true")
        said = page.locator(f"#{(field.get_attribute('aria-describedby') or '').split()[-1]}").inner_text()
        assert len(said.split()) > 3, said


def test_what_was_recorded_by_mistake_is_struck_out_and_stays_readable(page: Page, ines: Episode) -> None:
    page.goto(f"/people/{ines.pk}/")
    expect(page.get_by_role("link", name="say it is wrong").first).to_be_visible()
    record(ines.assignments.get().staff, ines, _strike(ines))
    page.reload()
    expect(page.locator(".struck")).to_contain_text("Wrong skill")


def _strike(episode: Episode) -> dict[str, str]:
    return an_entry("struck_out", entry=recorded(episode, "attempt")[0]["id"], reason="Wrong skill")


def test_words_of_another_language_say_which(enter: Enter) -> None:
    """The names of the languages, each in its own; what is signed stays English and says so (deed.html)."""
    page = enter(None, "/sign-in/")
    names = page.locator(".langs button")
    assert names.count() > 1
    for name, tag in names.evaluate_all("(all) => all.map((one) => [one.textContent, one.lang])"):
        assert tag[:2] == {"English": "en", "Español": "es"}[name]


def test_whoever_is_about_to_be_signed_out_can_stay_with_one_key(enter: Enter, therapist: Staff) -> None:
    page = enter()
    sign_in(page, therapist)
    page.goto("/people/")
    _last_used(settings.IDLE_SECONDS - 90)  # opening a page is use: it is made old again behind the open page
    note = page.get_by_role("alert")
    expect(note).to_contain_text("You will be signed out in about", timeout=8_000)
    note.get_by_role("button", name="Stay signed in").press("Enter")
    expect(note).to_have_count(0)
    assert clock.now() - _seen() < timedelta(seconds=20)


def _last_used(seconds: int) -> None:
    for row in Session.objects.all():
        store = SessionStore(row.session_key)
        if "seen_at" in store:
            store["seen_at"] = (clock.now() - timedelta(seconds=seconds)).isoformat()
            store.save()


def _seen() -> datetime:
    return max(datetime.fromisoformat(row.get_decoded()["seen_at"]) for row in Session.objects.all())
