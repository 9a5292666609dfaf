"""Which language somebody reads: the account's own, before that the browser's choice at the door, before that what the
browser asks for; and it is put back afterwards."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from django.conf import settings
from django.test import Client
from django.utils import translation

from clinic.audit.models import TrailRow
from clinic.errors import Invalid
from clinic.language import own, tags
from tests.makers import a_therapist

pytestmark = pytest.mark.django_db
Enter = Callable[..., Client]


def language_of(browser: Client, address: str = "/sign-in/", asks_for: str = "") -> str:
    """What the page says of itself, which is also what its header says."""
    answer = browser.get(address, headers={"Accept-Language": asks_for} if asks_for else {})
    said = answer.headers["Content-Language"]
    assert f'<html lang="{said}" dir="ltr">' in answer.content.decode()
    return str(said)


@pytest.mark.parametrize(
    ("asks_for", "read"),
    [("", "en-GB"), ("es", "es"), ("es-MX,es;q=0.9,en;q=0.8", "es"), ("cy,en;q=0.5", "en-GB"), ("xx-!!,;;", "en-GB")],
)
def test_a_stranger_reads_what_their_browser_asks_for(asks_for: str, read: str) -> None:
    assert language_of(Client(), asks_for=asks_for) == read
    assert tags.present() == settings.LANGUAGE_CODE  # nothing is left behind for the next


def test_the_switch_at_the_door_outlives_the_visit_and_what_the_browser_asks_for() -> None:
    browser = Client()
    answer = browser.post("/language/", {"language": "es", "next": "/sign-in/?with=password"})
    assert answer["Location"] == "/sign-in/?with=password"
    assert language_of(browser, asks_for="en") == "es"


def test_the_account_counts_more_than_the_browser(enter: Enter) -> None:
    staff = a_therapist()
    own.choose_language(actor=staff, language="es")
    browser = enter(staff)
    browser.cookies[settings.LANGUAGE_COOKIE_NAME] = "en-gb"
    assert language_of(browser, "/language/", asks_for="en") == "es"


def test_somebody_chooses_on_their_own_page_and_it_is_accounted_for(enter: Enter) -> None:
    staff = a_therapist()
    browser = enter(staff)
    assert language_of(browser, "/language/") == "en-GB"
    assert browser.post("/language/", {"language": "es", "next": "/language/"}).status_code == 302
    assert language_of(browser, "/language/") == "es"
    assert language_of(enter(staff), "/language/") == "es"  # in any browser
    row = TrailRow.objects.get(verb="language.chosen")
    assert (row.actor_id, row.detail) == (staff.pk, {"language": "es"})


def test_no_other_language_is_taken_and_nobody_is_led_elsewhere(enter: Enter) -> None:
    assert Client().post("/language/", {"language": "xx"}).status_code == 422
    assert Client().post("/language/", {"language": "es", "next": "https://elsewhere/"})["Location"] == "/sign-in/"
    with pytest.raises(Invalid):
        own.choose_language(actor=a_therapist(), language="xx")


@pytest.mark.parametrize(
    ("tag", "read"), [("es", "es"), ("es-419", "es"), ("en", "en-gb"), ("ar", "en-gb"), ("", "en-gb"), ("<", "en-gb")]
)
def test_a_person_is_addressed_in_their_own_language_whoever_writes(tag: str, read: str) -> None:
    with translation.override("es" if read != "es" else "en-gb"), tags.speaking_to(tag) as code:
        assert (code, tags.present()) == (read, read)
