"""One's own sessions: read, recognised and ended; and a lead who ends all of somebody's. Ended is ended at once."""

from __future__ import annotations

from collections.abc import Callable
from datetime import timedelta

import pytest
from django.conf import settings
from django.test import Client
from django.urls import reverse
from knox.models import AuthToken

from clinic.models import StaffSession, TrailRow
from clinic.staff.agents import kind_of_device
from clinic.staff.models import Staff
from tests.makers import PASSWORD, PIN, a_lead, a_therapist, a_token, now

pytestmark = pytest.mark.django_db
Enter = Callable[..., Client]
IPAD = "Mozilla/5.0 (iPad; CPU OS 17_0 like Mac OS X) AppleWebKit/605.1.15 Version/17.0 Mobile/15E148 Safari/604.1"


def comes(enter: Enter, staff: Staff, agent: str = "", address: str = "127.0.0.1") -> Client:
    """A browser of this kind at this address, signed in."""
    return enter(staff, Client(headers={"User-Agent": agent}, REMOTE_ADDR=address))


def programme(staff: Staff) -> Client:
    return Client(headers={"Authorization": f"Token {a_token(staff)}"})


def page(browser: Client) -> str:
    return browser.get(reverse("own_sessions")).content.decode()


def answers(browser: Client) -> int:
    return browser.get("/api/v1/episodes/").status_code


def test_one_reads_where_one_is_signed_in_and_which_is_this_one(enter: Enter) -> None:
    staff = a_therapist()
    here = comes(enter, staff, IPAD, "203.0.113.7")
    comes(enter, staff, "Mozilla/5.0 (X11; Linux x86_64; rv:140.0) Gecko/20100101 Firefox/140.0")
    comes(enter, a_therapist(), "Mozilla/5.0 (Windows NT 10.0; Win64; x64) Chrome/140.0")
    programme(staff)
    said = page(here)
    assert "tablet, iPadOS, Safari" in said.casefold().replace("ipados", "iPadOS").replace("safari", "Safari")
    assert "203.0.113.7" in said
    assert "omputer, Linux, Firefox" in said
    assert "API token" in said
    assert "Windows" not in said
    assert said.count("this one") == 1
    assert f"{settings.SESSION_HOURS} hours" in said
    assert f"{settings.IDLE_SECONDS // 60} minutes" in said


def test_one_session_ended_is_over_at_its_next_request_and_no_other(enter: Enter) -> None:
    staff = a_therapist()
    here, lost, other = enter(staff), enter(staff), enter(staff)
    row = StaffSession.objects.order_by("began_at")[1]
    here.post(reverse("end_session", args=[row.pk]))
    assert [answers(browser) for browser in (here, lost, other)] == [200, 401, 200]
    assert lost.get("/password/")["Location"].startswith("/sign-in/")
    assert TrailRow.objects.filter(actor=staff, verb="session.ended").count() == 1


def test_all_others_end_tokens_too_and_this_one_stays(enter: Enter) -> None:
    staff = a_therapist()
    here, lost, token = enter(staff), enter(staff), programme(staff)
    colleague = programme(a_therapist())
    assert answers(token) == 200
    here.post(reverse("end_other_sessions"))
    assert [answers(one) for one in (here, lost, token, colleague)] == [200, 401, 401, 200]


def test_nobody_ends_a_colleagues_session(enter: Enter) -> None:
    mine, colleague = enter(a_therapist()), a_therapist()
    theirs = enter(colleague)
    row = StaffSession.objects.get(staff=colleague)
    assert mine.post(reverse("end_session", args=[row.pk])).status_code == 404
    assert mine.post(reverse("end_sessions_of", args=[colleague.pk])).status_code in (403, 404)
    assert answers(theirs) == 200


def test_a_lead_ends_everything_that_is_open_of_somebodys(enter: Enter) -> None:
    staff = a_therapist()
    theirs, token = enter(staff), programme(staff)
    enter(a_lead()).post(reverse("end_sessions_of", args=[staff.pk]))
    assert [answers(theirs), answers(token)] == [401, 401]
    assert not AuthToken.objects.filter(user=staff).exists()


def test_a_token_without_a_session_opens_nothing() -> None:
    _, token = AuthToken.objects.create(user=a_therapist())
    assert answers(Client(headers={"Authorization": f"Token {token}"})) == 401


def test_a_browsers_session_without_its_row_opens_nothing(enter: Enter) -> None:
    browser = enter(a_therapist())
    StaffSession.objects.all().delete()
    assert answers(browser) == 401


def test_signing_out_ends_the_row_and_last_used_is_kept_to_the_minute(enter: Enter) -> None:
    browser = enter(a_therapist())
    long_ago = now() - timedelta(minutes=3)
    StaffSession.objects.update(seen_at=long_ago)
    session = browser.session
    session["seen_at"] = long_ago.isoformat()
    session.save()
    answers(browser)
    assert StaffSession.objects.get().seen_at > long_ago
    browser.post("/sign-out/")
    assert StaffSession.objects.get().ended_why == "signed out"


def test_a_new_password_ends_every_other_session_and_token(enter: Enter) -> None:
    staff = a_therapist()
    here, lost, token = enter(staff), enter(staff), programme(staff)
    new = {"old_password": PASSWORD, "new_password": "seven brass rails hum", "again_password": "seven brass rails hum"}
    here.post("/password/", new)
    assert [answers(one) for one in (here, lost, token)] == [200, 401, 401]
    assert StaffSession.objects.filter(ended_at__isnull=True).count() == 1


def test_a_pin_is_chosen_on_ones_own_page_with_the_password(enter: Enter) -> None:
    staff = a_therapist()
    browser = enter(staff)
    said = browser.post(reverse("own_pin"), {"pin": PIN, "again": PIN, "password": "wrong, and long enough"})
    assert said.status_code == 403
    assert "That is not your password" in said.content.decode()
    assert PIN not in said.content.decode()
    assert (
        browser.post(reverse("own_pin"), {"pin": "123456", "again": "123456", "password": PASSWORD}).status_code == 422
    )
    assert browser.post(reverse("own_pin"), {"pin": PIN, "again": PIN, "password": PASSWORD}).status_code == 302
    assert "Give it up" in page(browser)


@pytest.mark.parametrize(
    ("agent", "kind"),
    [
        ("", "unknown"),
        (IPAD, "tablet, iPadOS, Safari"),
        (
            "Mozilla/5.0 (Linux; Android 14; Tab) AppleWebKit/537.36 Chrome/140.0 Safari/537.36",
            "tablet, Android, Chromium",
        ),
        ("Mozilla/5.0 (Linux; Android 14; Fon) Chrome/140.0 Mobile Safari/537.36", "phone, Android, Chromium"),
        ("Mozilla/5.0 (Windows NT 10.0) Chrome/140.0 Safari/537.36 Edg/140.0", "computer, Windows, Edge"),
        ("python-httpx/0.28", "programme, python-httpx"),
        ("<script>/1", "programme, script"),
        ("Mozilla/5.0 (<b>)", "device, browser"),
    ],
)
def test_a_kind_of_device_is_a_few_words_whatever_it_says(agent: str, kind: str) -> None:
    assert kind_of_device(agent) == kind
