"""An expired session in the middle of a form: what was typed survives, for its author, and is never sent by itself."""

from __future__ import annotations

from collections.abc import Callable
from datetime import timedelta

import pytest
from django.conf import settings
from django.contrib.sessions.models import Session
from django.test import Client
from django.urls import reverse
from pytest_django.fixtures import Settings

from clinic import clock
from clinic.models import Site, Staff
from tests.makers import PASSWORD, a_code, a_lead, a_staff, in_through_the_door

pytestmark = pytest.mark.django_db
Enter = Callable[..., Client]
FORM = "/staff/sites/add/"
TYPED = {"name": "A site typed with care", "time_zone": "Europe/Oslo"}
HEAD, ELSEWHERE = "Your form is here again, not yet sent", "A form of yours waits, not yet sent"


@pytest.fixture(autouse=True)
def _time_can_pass(settings: Settings) -> None:
    settings.CLOCK_CAN_BE_SET = True


def expired_while_typing(browser: Client) -> str:
    """The form is sent after the session has ended; where that leads."""
    with clock.at_instant(clock.now() + timedelta(seconds=settings.IDLE_SECONDS + 1)):
        return browser.post(FORM, TYPED)["Location"]


def test_nothing_is_written_and_the_way_leads_to_the_door(enter: Enter) -> None:
    browser = enter(a_lead())
    assert expired_while_typing(browser).startswith("/sign-in/?next=%2Fstaff%2Fsites%2Fadd%2F")
    assert not Site.objects.filter(name=TYPED["name"]).exists()


def test_the_door_says_that_it_is_kept(enter: Enter) -> None:
    browser = enter(a_lead())
    assert "What you typed is kept" in browser.get(expired_while_typing(browser)).content.decode()


def test_its_author_finds_it_filled_in_and_nothing_was_sent(enter: Enter) -> None:
    lead = a_lead()
    browser = enter(lead)
    expired_while_typing(browser)
    enter(lead, browser)
    page = browser.get(FORM).content.decode()
    assert HEAD in page
    assert 'value="A site typed with care"' in page
    assert not Site.objects.filter(name=TYPED["name"]).exists()


def test_signing_in_leads_back_to_the_page_of_the_form(enter: Enter) -> None:
    lead = a_lead()
    browser = enter(lead)
    with clock.at_instant(clock.now() + timedelta(seconds=settings.IDLE_SECONDS + 1)):
        browser.post("/staff/add/", {"name": "x"}, headers={"referer": "http://testserver/staff/?role=therapist"})
    assert in_through_the_door(browser, lead)["Location"] == "/staff/?role=therapist"


@pytest.mark.parametrize("came", ["https://elsewhere.example/x", "http://testserver//elsewhere.example/", "nonsense"])
def test_no_other_host_is_led_to_whatever_the_browser_says_that_it_came_from(enter: Enter, came: str) -> None:
    browser = enter(a_lead())
    with clock.at_instant(clock.now() + timedelta(seconds=settings.IDLE_SECONDS + 1)):
        led = browser.post(FORM, TYPED, headers={"referer": came})["Location"]
    assert led == "/sign-in/?next=%2Fstaff%2Fsites%2Fadd%2F"


def test_sent_by_its_author_it_is_written_once_and_gone(enter: Enter) -> None:
    lead = a_lead()
    browser = enter(lead)
    expired_while_typing(browser)
    enter(lead, browser)
    browser.post(FORM, TYPED)
    assert Site.objects.filter(name=TYPED["name"]).count() == 1
    assert ELSEWHERE not in browser.get("/staff/").content.decode()


def test_on_other_pages_a_line_leads_back_to_it(enter: Enter) -> None:
    lead = a_lead()
    browser = enter(lead)
    expired_while_typing(browser)
    enter(lead, browser)
    page = browser.get("/staff/").content.decode()
    assert "A form of yours waits, not yet sent" in page
    assert f'href="{FORM}">Go to it' in page
    assert TYPED["name"] not in page


def test_put_away_it_is_gone_and_nothing_is_written(enter: Enter) -> None:
    lead = a_lead()
    browser = enter(lead)
    expired_while_typing(browser)
    enter(lead, browser)
    browser.post("/kept/put-away/")
    assert ELSEWHERE not in browser.get("/staff/").content.decode()
    assert not Site.objects.filter(name=TYPED["name"]).exists()


def test_a_colleague_at_the_same_tablet_does_not_see_it(enter: Enter) -> None:
    browser = enter(a_lead())
    expired_while_typing(browser)
    enter(a_lead(), browser)
    page = browser.get("/staff/").content.decode()
    assert ELSEWHERE not in page
    assert TYPED["name"] not in page


def test_after_signing_out_a_form_of_an_open_page_is_its_authors_alone(enter: Enter) -> None:
    author = a_lead()
    browser = enter(author)
    browser.post("/sign-out/")
    assert browser.post(FORM, TYPED).status_code == 302
    enter(a_lead(), browser)
    assert TYPED["name"] not in browser.get(FORM).content.decode()


def test_it_survives_even_when_the_server_has_forgotten_the_session(enter: Enter) -> None:
    lead = a_lead()
    browser = enter(lead)
    Session.objects.all().delete()
    assert browser.post(FORM, TYPED).status_code == 302
    enter(lead, browser)
    assert TYPED["name"] in browser.get(FORM).content.decode()


def test_it_is_kept_for_half_an_hour_and_no_longer(enter: Enter) -> None:
    lead = a_lead()
    browser = enter(lead)
    later = clock.now() + timedelta(seconds=settings.IDLE_SECONDS + 1)
    expired_while_typing(browser)
    with clock.at_instant(later + timedelta(minutes=31)):
        enter(lead, browser)
        assert ELSEWHERE not in browser.get("/staff/").content.decode()


def test_a_password_is_never_kept(enter: Enter) -> None:
    lead = a_lead()
    browser = enter(lead)
    with clock.at_instant(clock.now() + timedelta(seconds=settings.IDLE_SECONDS + 1)):
        browser.post("/password/", {"old_password": "the old one", "new_password": "the new one", "note": "kept"})
    stored = str(browser.session.get("kept_form"))
    assert "kept" in stored
    assert "the old one" not in stored
    assert "the new one" not in stored


def test_five_megabytes_are_not_kept(enter: Enter) -> None:
    browser = enter(a_lead())
    with clock.at_instant(clock.now() + timedelta(seconds=settings.IDLE_SECONDS + 1)):
        browser.post(FORM, {"name": "x" * 2_000_000})
    assert "kept_form" not in browser.session


def strict(enter: Enter, staff: Staff) -> Client:
    """A browser whose forms must carry their token, as real ones must."""
    browser = Client(enforce_csrf_checks=True)
    token = browser.get("/sign-in/").context["csrf_token"]
    said = {"username": staff.username, "password": PASSWORD, "csrfmiddlewaretoken": str(token)}
    assert browser.post("/sign-in/", said)["Location"] == "/sign-in/second/"
    said = {"one_time_code": a_code(staff), "csrfmiddlewaretoken": str(token)}
    assert browser.post("/sign-in/second/", said).status_code == 302
    return browser


def test_a_form_from_before_the_last_sign_in_comes_back_filled_in(enter: Enter) -> None:
    browser = strict(enter, a_lead())
    answer = browser.post(FORM, {**TYPED, "csrfmiddlewaretoken": "old"}, headers={"origin": "http://testserver"})
    assert answer["Location"] == FORM
    assert TYPED["name"] in browser.get(FORM).content.decode()
    assert not Site.objects.filter(name=TYPED["name"]).exists()


def test_a_form_from_another_site_is_refused_and_not_kept(enter: Enter) -> None:
    browser = strict(enter, a_lead())
    answer = browser.post(FORM, TYPED, headers={"origin": "https://elsewhere.example"})
    assert answer.status_code == 403
    assert "did not come from a page of this clinic" in answer.content.decode()
    assert "kept_form" not in browser.session


def test_a_page_that_swaps_fragments_is_led_to_the_door_too(client: Client) -> None:
    a_staff()
    answer = client.post(FORM, TYPED, headers={"hx-request": "true"})
    assert (answer.status_code, answer["HX-Redirect"][:9]) == (401, "/sign-in/")


def test_neither_pins_nor_codes_are_kept(enter: Enter) -> None:
    browser = enter(a_lead())
    typed = {"pin": "804215", "again": "804215", "app_code": "123456", "x-pin": "804215", "opinion": "words"}
    with clock.at_instant(clock.now() + timedelta(seconds=settings.IDLE_SECONDS + 1)):
        browser.post(reverse("own_pin"), typed)
    assert browser.session["kept_form"]["fields"] == [["opinion", "words"]]
