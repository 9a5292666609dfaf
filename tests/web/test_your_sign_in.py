"""Signing in in two steps, and the page of one's own sign-in: what people see."""

from __future__ import annotations

import base64
import re
from collections.abc import Callable
from datetime import timedelta

import pytest
from django.test import Client, override_settings
from django.urls import reverse
from rest_framework.test import APIClient

from clinic import clock
from clinic.audit.models import TrailRow
from clinic.staff import attempts, half_in
from clinic.staff.factors import totp
from clinic.staff.factors.models import in_use
from clinic.staff.models import Staff
from clinic.staff.session_models import StaffSession
from tests.makers import (
    PASSWORD,
    SECRET,
    a_code,
    a_lead,
    a_records_officer,
    a_therapist,
    an_episode,
    in_through_the_door,
)

pytestmark = pytest.mark.django_db(transaction=True)
Enter = Callable[..., Client]
DEMO_WORDS = "This is the demo"


def first_step(browser: Client, staff: Staff) -> str:
    """Where the name and the password lead."""
    return str(browser.post("/sign-in/", {"username": staff.username, "password": PASSWORD})["Location"])


def second(browser: Client, code: str) -> int:
    return browser.post("/sign-in/second/", {"one_time_code": code}).status_code


def text(browser: Client, address: str) -> str:
    return " ".join(browser.get(address).content.decode().split())


# --- two steps --------------------------------------------------------------------------------------------------------
def test_who_has_a_factor_is_asked_for_it_and_is_not_in_before(client: Client) -> None:
    staff = a_therapist()
    assert first_step(client, staff) == "/sign-in/second/"
    assert client.get("/password/").status_code == 302
    assert staff.name in text(client, "/sign-in/second/")
    assert second(client, a_code(staff)) == 302
    assert client.get("/password/").status_code == 200
    assert StaffSession.objects.get().assurance == 3
    assert TrailRow.objects.get(verb="sign_in.succeeded").detail["by"] == "password and one-time code"


def test_who_has_none_and_needs_none_is_in_at_once_with_less(client: Client) -> None:
    assert first_step(client, a_therapist(factor=False)) == "/"
    assert StaffSession.objects.get().assurance == 2


def test_a_wrong_code_is_said_and_lets_nobody_in(client: Client) -> None:
    staff = a_therapist()
    first_step(client, staff)
    answer = client.post("/sign-in/second/", {"one_time_code": "000000"})
    assert answer.status_code == 403
    assert "That code is not good" in answer.content.decode()
    assert client.get("/password/").status_code == 302


def test_the_right_password_again_does_not_give_more_guesses_at_the_code(client: Client) -> None:
    staff = a_therapist()
    for _ in range(attempts.FROM_HERE):
        first_step(client, staff)
        second(client, "000000")
    first_step(client, staff)
    assert second(client, a_code(staff)) == 429


def test_without_the_first_step_there_is_no_second(client: Client) -> None:
    assert client.get("/sign-in/second/")["Location"] == "/sign-in/"
    assert second(client, "123456") == 302
    assert client.get("/password/").status_code == 302


def test_the_first_step_counts_for_five_minutes(client: Client) -> None:
    staff = a_therapist()
    first_step(client, staff)
    later = clock.now() + half_in.HELD_FOR + timedelta(seconds=1)
    with override_settings(CLOCK_CAN_BE_SET=True), clock.at_instant(later):
        assert client.get("/sign-in/second/")["Location"] == "/sign-in/"


def test_a_new_password_meanwhile_ends_the_first_step(client: Client) -> None:
    staff = a_therapist()
    first_step(client, staff)
    staff.set_password("seven brass rails hum")
    staff.save()
    assert client.get("/sign-in/second/")["Location"] == "/sign-in/"


def test_each_step_gives_the_session_a_new_key(client: Client) -> None:
    staff = a_therapist()
    client.get("/password/")
    keys = [client.session.session_key]
    first_step(client, staff)
    keys.append(client.session.session_key)
    second(client, a_code(staff))
    keys.append(client.session.session_key)
    assert len(set(keys)) == 3


@pytest.mark.parametrize("make", [a_lead, a_records_officer])
def test_who_must_have_a_factor_and_has_none_adds_one_before_anything_else(make: Callable[..., Staff]) -> None:
    staff, browser = make(factor=False), Client()
    first_step(browser, staff)
    for address in ("/", "/staff/", "/trail/", "/people/"):
        assert browser.get(address)["Location"] == "/your-sign-in/", address
    assert browser.get("/api/v1/staff/").status_code == 403
    assert "Add a second factor first" in text(browser, "/your-sign-in/")
    add(browser, staff)
    assert browser.get("/trail/" if make is a_records_officer else "/staff/").status_code == 200


def test_neither_does_a_page_that_asks_by_itself_show_a_record_before_that() -> None:
    staff, browser, episode = a_lead(factor=False), Client(), an_episode()
    first_step(browser, staff)
    state = reverse("floor_state", args=[episode.pk])
    assert browser.get(state).status_code == 403
    assert browser.get(reverse("alerts_tally")).status_code == 200
    add(browser, staff)
    assert browser.get(state).status_code == 200
    Staff.objects.filter(pk=staff.pk).update(password_given_at=clock.now())
    assert browser.get(state).status_code == 403


def test_a_role_that_needs_one_and_begins_meanwhile_leads_there_too() -> None:
    staff, browser = a_therapist(factor=False), Client()
    first_step(browser, staff)
    staff.role_terms.update(role="clinic_lead")
    assert browser.get("/staff/")["Location"] == "/your-sign-in/"


# --- programmes -------------------------------------------------------------------------------------------------------
def token(**given: str) -> int:
    return APIClient().post("/api/v1/tokens/", given, format="json").status_code


def test_a_programme_gives_the_code_too_where_there_is_a_factor() -> None:
    staff = a_lead()
    name = {"username": staff.username, "password": PASSWORD}
    assert token(**name) == 403
    assert token(**name, code="000000") == 403
    assert token(**name, code=a_code(staff)) == 201
    assert StaffSession.objects.get().assurance == 3


def test_without_a_factor_a_lead_gets_no_token_and_a_therapist_does() -> None:
    for staff, status in ((a_lead(factor=False), 403), (a_therapist(factor=False), 201)):
        assert token(username=staff.username, password=PASSWORD) == status


def test_a_token_of_somebody_who_becomes_a_lead_needs_two_factors_from_then_on() -> None:
    staff, caller = a_therapist(factor=False), APIClient()
    made = caller.post("/api/v1/tokens/", {"username": staff.username, "password": PASSWORD}, format="json").json()
    caller.credentials(HTTP_AUTHORIZATION=f"Token {made['token']}")
    assert caller.get("/api/v1/episodes/").status_code == 200
    staff.role_terms.update(role="clinic_lead")
    assert caller.get("/api/v1/episodes/").status_code == 401


# --- the demo says the code, and nothing else does --------------------------------------------------------------------
def test_only_the_demo_says_the_code_and_that_it_is_the_demo(client: Client) -> None:
    staff = a_therapist()
    first_step(client, staff)
    code = a_code(staff)
    for said in (text(client, "/sign-in/second/"), text(client, "/sign-in/")):
        assert DEMO_WORDS not in said
        assert code not in said
    assert client.get("/sign-in/code-now/").status_code == 404
    with override_settings(DEMO=True):
        assert f"{DEMO_WORDS}, so the page says what the telephone would show: {code}" in text(
            client, "/sign-in/second/"
        )
        assert client.get("/sign-in/code-now/").json()["said"].endswith(code)
        assert second(client, code) == 302


def test_not_even_the_demo_says_it_before_the_password(client: Client) -> None:
    staff = a_therapist()
    with override_settings(DEMO=True):
        assert a_code(staff) not in text(client, "/sign-in/")
        assert client.get("/sign-in/code-now/").status_code == 404


def test_outside_the_demo_no_page_of_somebody_signed_in_says_one(enter: Enter) -> None:
    staff = a_therapist()
    browser, row = enter(staff), in_use(staff).get()
    steps = range(totp.step_of(clock.now()) - 2, totp.step_of(clock.now()) + 3)
    codes = [totp.code_of(SECRET, step) for step in steps]
    yours = f"/your-sign-in/{row.pk}/"
    for address in ("/your-sign-in/", "/your-sign-in/app/add/", f"{yours}rename/", f"{yours}remove/"):
        said = text(browser, address)
        assert not any(code in said for code in codes), address
        assert DEMO_WORDS not in said
    assert browser.get("/sign-in/code-now/").status_code == 404


# --- one's own page ---------------------------------------------------------------------------------------------------
def letters_on(page: str) -> str:
    """The secret as the page spells it."""
    found = re.search(r'class="letters"[^>]*>([A-Z2-7 ]+)<', page)
    assert found, page
    return found[1].replace(" ", "")


def add(browser: Client, staff: Staff, **given: str) -> tuple[int, str]:
    """Add an app as a person does: read the letters, type the app's code."""
    plain = letters_on(browser.get("/your-sign-in/app/add/").content.decode())
    secret = base64.b32decode(plain + "=" * (-len(plain) % 8))
    form = {"name": "my telephone", "app_code": totp.code_of(secret, totp.step_of(clock.now())), "password": PASSWORD}
    if in_use(staff).exists():
        form["one_time_code"] = a_code(staff)
    answer = browser.post("/your-sign-in/app/add/", {**form, **given})
    return answer.status_code, answer.content.decode()


def test_an_app_is_added_by_its_letters_and_its_code(enter: Enter) -> None:
    staff = a_therapist(factor=False)
    browser = enter(staff)
    assert add(browser, staff)[0] == 302
    assert "my telephone" in text(browser, "/your-sign-in/")
    assert StaffSession.objects.get().assurance == 3


def test_the_picture_is_drawn_here_and_the_letters_stay_until_it_is_done(enter: Enter) -> None:
    browser = enter(a_therapist(factor=False))
    first, again = text(browser, "/your-sign-in/app/add/"), text(browser, "/your-sign-in/app/add/")
    assert "<svg" in first
    assert letters_on(first) == letters_on(again)


def test_the_waiting_secret_does_not_stand_in_the_session(enter: Enter) -> None:
    browser = enter(a_therapist(factor=False))
    letters = letters_on(text(browser, "/your-sign-in/app/add/"))
    assert letters not in str(dict(browser.session.items()))


def test_a_further_one_asks_for_the_first(enter: Enter) -> None:
    staff = a_therapist()
    status, said = add(enter(staff), staff, one_time_code="")
    assert (status, "This takes both" in said) == (403, True)
    assert in_use(staff).count() == 1


def test_recovery_codes_are_shown_once_and_open_the_door(enter: Enter, client: Client) -> None:
    staff = a_therapist()
    browser = enter(staff)
    answer = browser.post("/your-sign-in/recovery/", {"password": PASSWORD, "one_time_code": a_code(staff)})
    codes = re.findall(r"<code>([a-z0-9-]+)</code>", answer.content.decode())
    assert len(codes) == 10
    assert codes[0] not in text(browser, "/your-sign-in/recovery/")
    assert "10</b> of 10" in text(browser, "/your-sign-in/")
    first_step(client, staff)
    assert second(client, codes[0]) == 302
    assert TrailRow.objects.filter(verb="sign_in.succeeded").last().detail["by"] == "password and recovery code"  # type: ignore[union-attr]  # None fails the test as well
    assert "9</b> of 10" in text(browser, "/your-sign-in/")


def test_a_removed_factor_ends_the_sessions_elsewhere(enter: Enter) -> None:
    staff = a_therapist()
    here, elsewhere, row = enter(staff), enter(staff), in_use(staff).get()
    gone = here.post(f"/your-sign-in/{row.pk}/remove/", {"password": PASSWORD, "one_time_code": a_code(staff)})
    assert gone.status_code == 302
    assert here.get("/your-sign-in/").status_code == 200
    assert elsewhere.get("/your-sign-in/").status_code == 302


def test_a_lead_sees_factors_by_name_and_takes_a_lost_one_away(enter: Enter) -> None:
    lead, staff = a_lead(), a_therapist()
    browser, theirs, row = enter(lead), enter(staff), in_use(staff).get()
    said = text(browser, f"/staff/{staff.pk}/")
    assert "telephone" in said
    assert totp.spelled(SECRET) not in said
    done = browser.post(f"/staff/{staff.pk}/factors/{row.pk}/remove/", {"how": "They stand before me."})
    assert done.status_code == 302
    assert theirs.get("/password/").status_code == 302, "everything of theirs has ended"
    assert first_step(Client(), staff) == "/"
    assert "not checked" in text(browser, f"/staff/{staff.pk}/")


def test_whoever_let_somebody_in_reads_who_may_check_them_and_gets_no_button(enter: Enter) -> None:
    lead, other = a_lead(name="Marit Sandhollow"), a_lead(name="Hale Undermost")
    tove = a_therapist(identity_checked_at=None, factor=False, let_in_by=[lead.pk])
    check = f'href="/staff/{tove.pk}/identity/"'
    for staff, offered in ((lead, False), (other, True)):
        for address in (f"/staff/{tove.pk}/", "/identities/"):
            said = text(enter(staff), address)
            assert (check in said, "Hale Undermost can." in said) == (offered, not offered)
    assert "They set it up themselves" in text(enter(lead), f"/staff/{tove.pk}/")


def test_the_identity_is_checked_on_a_page(enter: Enter) -> None:
    records, staff = a_records_officer(), a_therapist(identity_checked_at=None)
    browser = enter(records)
    assert staff.name in text(browser, "/identities/")
    assert browser.post(f"/staff/{staff.pk}/identity/", {"how": "Passport."})["Location"] == "/identities/"
    assert staff.name not in text(browser, "/identities/").partition("<main")[2].replace(f"Kept: {staff.name}", "")
    assert "Passport." in text(in_as(staff), "/your-sign-in/")


def in_as(staff: Staff) -> Client:
    browser = Client()
    in_through_the_door(browser, staff)
    return browser


def test_a_passkey_is_offered_where_the_server_has_a_name(enter: Enter) -> None:
    browser = enter(a_therapist())
    assert "here it is reached by a number" in text(browser, "/your-sign-in/").replace("’", "'")
    local = browser.get("/your-sign-in/", headers={"host": "localhost"}).content.decode()
    assert "Add a passkey" in local


def test_an_answer_that_no_passkey_gave_opens_nothing(client: Client) -> None:
    for said in ("{}", "nonsense", '{"id": "x", "rawId": "eA", "type": "public-key", "response": {}}', "[]"):
        answer = client.post("/sign-in/", {"passkey": said})
        assert answer.status_code == 403
        assert client.get("/password/").status_code == 302
