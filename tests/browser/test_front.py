"""The front of the house in a real browser: without barriers, by keyboard, in light and dark, with an ended session."""

from __future__ import annotations

from collections.abc import Callable

from playwright.sync_api import Page, expect

from clinic.audit import trail
from clinic.audit.selectors import PAGE
from clinic.models import Site
from tests.browser.by_keyboard import Keyboard
from tests.browser.conftest import session_ends, takes_both_steps
from tests.browser.looking import barriers, in_both_schemes
from tests.makers import a_lead, a_records_officer, a_site, a_therapist, now

Enter = Callable[..., Page]
LEAD_PAGES = [
    "/staff/?role=therapist",
    "/staff/add/",
    "/watch/",
    "/protocol/",
    "/password/",
    "/no/such/page/",
    "/trail/",
]


def test_no_barriers_on_the_pages_of_a_lead(enter: Enter) -> None:
    lead = a_lead(site=a_site())
    a_therapist(site=lead.site, authorised=["lock"])
    page = enter(lead, size="tablet upright", color_scheme="dark")
    for address in LEAD_PAGES:
        page.goto(address)
        assert barriers(page) == [], address


def test_no_barriers_at_the_door_and_on_the_trail(enter: Enter) -> None:
    assert in_both_schemes(enter(None, "/sign-in/?next=/trail/")) == []
    assert in_both_schemes(enter(a_records_officer(), "/trail/")) == []


def test_no_barriers_on_the_page_of_one_member_of_staff(enter: Enter) -> None:
    therapist = a_therapist()
    page = enter(a_lead(), f"/staff/{therapist.pk}/")
    assert barriers(page) == []


def test_the_first_tab_skips_to_the_content(enter: Enter) -> None:
    page = enter(a_lead(), "/staff/")
    page.keyboard.press("Tab")
    expect(page.locator(":focus")).to_have_text("Skip to content")
    page.keyboard.press("Enter")
    assert page.evaluate("location.hash") == "#main"


def test_signing_out_by_keyboard_alone(enter: Enter) -> None:
    lead = a_lead(name="Marit Sandhollow")
    page = enter(lead, "/staff/")
    board = Keyboard(page)
    board.press(".plate-who > summary", "Marit Sandhollow")
    board.press(".plate-menu button", "Sign out")
    expect(page.get_by_role("heading", name="Sign in")).to_be_visible()


def test_every_control_can_be_hit_with_a_thumb(enter: Enter) -> None:
    page = enter(a_lead(), "/staff/", size="tablet upright")
    small = page.eval_on_selector_all(
        "main .act, main .pick, .plate nav a, .plate summary",
        "all => all.filter(one => one.getBoundingClientRect().height < 48).map(one => one.textContent)",
    )
    assert small == []


def test_a_form_whose_session_ended_comes_back_filled_in_and_is_sent_once(enter: Enter) -> None:
    lead = a_lead()
    page = enter(lead, "/staff/sites/add/")
    page.get_by_label("Name of the site").fill("Quay Street")
    page.get_by_label("Time zone").select_option("Europe/Oslo")
    session_ends(lead)
    page.get_by_role("button", name="Add").click()
    expect(page.get_by_text("What you typed is kept")).to_be_visible()
    takes_both_steps(page, lead)
    expect(page.get_by_label("Name of the site")).to_have_value("Quay Street")
    expect(page.get_by_label("Time zone")).to_have_value("Europe/Oslo")
    expect(page.get_by_text("look through it and send it")).to_be_visible()
    assert barriers(page) == []
    assert not Site.objects.filter(name="Quay Street").exists()
    page.get_by_role("button", name="Add").click()
    expect(page.get_by_role("heading", name="Staff")).to_be_visible()
    assert Site.objects.filter(name="Quay Street").count() == 1


def test_a_password_can_be_looked_at_while_it_is_typed(enter: Enter) -> None:
    page = enter(None, "/sign-in/")
    field = page.locator("#id_password")
    field.fill("a quiet bar")
    page.get_by_role("button", name="Show the password").click()
    expect(field).to_have_attribute("type", "text")


def test_older_rows_of_the_trail_are_added_below_without_a_reload(enter: Enter) -> None:
    officer = a_records_officer()
    for number in range(PAGE + 7):
        trail.record(officer, "person.opened", "person", f"AR-{number}", at=now())
    page = enter(officer, "/trail/?verb=person.opened")
    page.evaluate("window.stillTheSamePage = true")
    page.get_by_role("link", name="Older").click()
    expect(page.locator("#rows > tr")).to_have_count(PAGE + 7)
    expect(page.get_by_role("link", name="Older")).to_have_count(0)
    assert page.evaluate("window.stillTheSamePage") is True
    assert barriers(page) == []
