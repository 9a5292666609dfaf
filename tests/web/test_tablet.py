"""The gym's shared tablet: enrolled by a lead, opened by a name and a PIN for recording, handed over in two taps."""

from __future__ import annotations

import re
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from urllib.parse import urlencode

import pytest
from django.conf import settings
from django.test import Client
from django.urls import reverse

from caseload.models import Episode
from checklists.models import Entry
from clinic.models import StaffSession, Tablet, TrailRow
from clinic.staff.models import Staff
from clinic.staff.tablet import secret, services
from clinic.web import tablet as cookie
from tests.makers import (
    PASSWORD,
    PIN,
    a_check,
    a_lead,
    a_pin,
    a_records_officer,
    a_site,
    a_therapist,
    an_assistant,
    an_attempt,
    an_enrolled_tablet,
    an_episode,
    in_through_the_door,
    now,
)

pytestmark = pytest.mark.django_db
Enter = Callable[..., Client]


@pytest.fixture
def gym() -> Client:
    """A browser on an enrolled tablet of the main gym, with nobody signed in."""
    return held(an_enrolled_tablet())


def held(enrolled: services.Enrolled) -> Client:
    browser = Client()
    browser.cookies[cookie.NAME] = secret.held(enrolled.tablet, enrolled.secret)
    return browser


def by_pin(browser: Client, staff: Staff, pin: str = PIN, *, to: str = "") -> str:
    """What the tablet says, or where it leads."""
    answer = browser.post(reverse("enter_pin", args=[staff.pk]), {"pin": pin, "next": to})
    return answer["Location"] if answer.status_code == 302 else answer.content.decode()


def recorded(browser: Client, episode: Episode, **headers: str) -> int:
    facts = {"entries": [a_check(at=now()), an_attempt("don_check", "none", at=now())]}
    address = reverse("api-entries", args=[episode.pk])
    return browser.post(address, facts, content_type="application/json", headers=headers).status_code


def page_of(browser: Client, address: str) -> str:
    return browser.get(address).content.decode()


# --- whose names -----------------------------------------------------------------------------------------------------
def test_the_sign_in_page_of_a_tablet_shows_the_staff_of_its_site_who_have_a_pin(gym: Client) -> None:
    shown = a_pin(a_therapist(name="Runa Achterling"))
    a_therapist(name="No Pin")
    a_pin(a_therapist(name="Other Site", site=a_site("Quay Street")))
    led = gym.get("/sign-in/?next=/alerts/")
    assert led["Location"] == "/tablet/?next=%2Falerts%2F"
    said = page_of(gym, led["Location"])
    assert shown.name in said
    assert "No Pin" not in said
    assert "Other Site" not in said


def test_a_tablet_still_has_the_way_in_by_password(gym: Client) -> None:
    assert "Password" in page_of(gym, "/sign-in/?with=password")


def test_a_device_that_is_not_enrolled_shows_no_name_and_takes_no_pin(client: Client) -> None:
    staff = a_pin(a_therapist())
    assert client.get("/tablet/")["Location"] == "/sign-in/"
    assert by_pin(client, staff) == "/tablet/"
    assert "Sign in" in page_of(client, "/sign-in/")


@pytest.mark.parametrize("what", ["x", "x.y", "{id}.", "{id}.wrong", "{other}.{secret}", "{id}.{secret}x"])
def test_a_cookie_that_is_not_the_tablets_own_is_worth_nothing(what: str) -> None:
    enrolled, other = an_enrolled_tablet("Bars"), an_enrolled_tablet("Stairs")
    browser = Client()
    browser.cookies[cookie.NAME] = what.format(id=enrolled.tablet.pk, other=other.tablet.pk, secret=enrolled.secret)
    assert browser.get("/tablet/")["Location"] == "/sign-in/"


# --- what a PIN is good for ------------------------------------------------------------------------------------------
def test_name_and_pin_open_recording_under_ones_own_name_always_on_screen(gym: Client) -> None:
    therapist = a_pin(a_therapist(name="Runa Achterling"))
    episode = an_episode(assigned_to=therapist)
    assert by_pin(gym, therapist) == "/"
    for address in (reverse("today"), reverse("person", args=[episode.pk]), reverse("floor", args=[episode.pk])):
        said = page_of(gym, address)
        assert "Runa Achterling" in said
        assert "PIN" in said
        assert "Pass on" in said
    assert recorded(gym, episode) == 200
    assert set(Entry.objects.exclude(kind="episode_opened").values_list("by__name", flat=True)) == {"Runa Achterling"}


def test_by_pin_nothing_is_signed_and_a_sentence_says_how(gym: Client) -> None:
    therapist = a_pin(a_therapist())
    episode = an_episode(assigned_to=therapist)
    by_pin(gym, therapist)
    answer = gym.get(reverse("sign_off", args=[episode.pk, "don_check"]))
    assert answer.status_code == 403
    assert "A PIN is for recording only. Sign in with your name and password" in answer.content.decode()
    assert TrailRow.objects.filter(actor=therapist, verb="access.refused").exists()


def test_a_leads_own_pages_are_shut_to_their_pin_and_open_to_their_password(gym: Client, enter: Enter) -> None:
    lead = a_pin(a_lead())
    by_pin(gym, lead)
    whole = enter(lead)
    for name in ("staff", "caseload", "tablets", "add_staff", "enrol_here", "own_pin"):
        assert gym.get(reverse(name)).status_code == 403, name
        assert whole.get(reverse(name)).status_code == 200, name
    assert gym.post(reverse("end_sessions_of", args=[a_therapist().pk])).status_code == 403
    new = {"old_password": PASSWORD, "new_password": "seven brass rails hum", "again_password": "seven brass rails hum"}
    assert gym.post("/password/", new).status_code == 403


def test_a_wrong_pin_is_said_and_never_comes_back_in_the_page(gym: Client) -> None:
    therapist = a_pin(a_therapist())
    said = by_pin(gym, therapist, "739165")
    assert "That is not the PIN" in said
    assert "739165" not in said


def test_after_five_wrong_ones_the_page_says_what_opens_it_and_a_password_does(gym: Client, enter: Enter) -> None:
    therapist = a_pin(a_therapist())
    for _ in range(5):
        said = by_pin(gym, therapist, "739165")
    assert "sign in with their password once" in said
    assert "PIN locked" in page_of(gym, "/tablet/")
    assert "locked" in by_pin(gym, therapist)
    enter(therapist)
    assert by_pin(gym, therapist) == "/"


# --- handed over -----------------------------------------------------------------------------------------------------
def test_handed_over_at_the_floor_a_colleague_goes_on_there_in_their_own_name(gym: Client) -> None:
    first, second = a_pin(a_therapist(name="Runa Achterling")), a_pin(an_assistant(name="Mio Tarn"))
    episode = an_episode(assigned_to=first)
    by_pin(gym, first)
    names = gym.post(reverse("hand_over"), {"next": reverse("floor_taken_over", args=[episode.pk])})
    assert gym.get(reverse("floor", args=[episode.pk])).status_code == 302  # the first one is gone at once
    assert "Mio Tarn" in page_of(gym, names["Location"])
    there = gym.get(by_pin(gym, second, to=reverse("floor_taken_over", args=[episode.pk])), follow=True)
    assert there.redirect_chain[-1][0] == reverse("floor", args=[episode.pk])
    assert "Mio Tarn" in there.content.decode()
    assert TrailRow.objects.filter(actor=first, verb="session.handed_over").count() == 1


def test_where_the_person_is_not_theirs_they_go_on_with_their_own_day_and_nothing_is_refused(gym: Client) -> None:
    first, second = a_pin(a_therapist()), a_pin(a_therapist())
    episode = an_episode(assigned_to=first)
    by_pin(gym, second)
    assert gym.get(reverse("floor_taken_over", args=[episode.pk]))["Location"] == reverse("today")
    assert not TrailRow.objects.filter(verb="access.refused").exists()


def test_what_a_page_of_the_first_one_still_sends_is_not_taken_under_the_second_name(gym: Client) -> None:
    first, second = a_pin(a_therapist()), a_pin(an_assistant())
    episode = an_episode(assigned_to=first)
    by_pin(gym, first)
    gym.post(reverse("hand_over"))
    by_pin(gym, second)
    before = Entry.objects.count()
    assert recorded(gym, episode, **{"X-Speaks-For": first.reference}) == 401
    assert Entry.objects.count() == before
    assert recorded(gym, episode, **{"X-Speaks-For": second.reference}) == 200


def test_handed_over_after_the_session_has_ended_the_names_are_shown_and_nothing_is_kept(gym: Client) -> None:
    a_pin(a_therapist())
    names = gym.post(reverse("hand_over"), {"next": reverse("today")})
    assert names["Location"] == "/tablet/"
    assert "What you typed is kept" not in page_of(gym, names["Location"])


# --- how it ends -----------------------------------------------------------------------------------------------------
def test_a_session_by_pin_ends_sooner_when_nobody_uses_it(gym: Client) -> None:
    therapist = a_pin(a_therapist())
    for minutes, status in ((settings.PIN_IDLE_MINUTES - 1, 200), (settings.PIN_IDLE_MINUTES + 1, 302)):
        by_pin(gym, therapist)
        session = gym.session
        session["seen_at"] = (now() - timedelta(minutes=minutes)).isoformat()
        session.save()
        answer = gym.get("/")
        assert answer.status_code == status
    assert answer["Location"].startswith("/tablet/?next=")


@pytest.mark.parametrize("another", [False, True])
def test_the_way_back_by_pin_is_for_whoever_was_there_and_for_whom_it_was_passed_on_to(
    gym: Client, another: bool
) -> None:
    therapist, colleague = a_pin(a_therapist()), a_pin(a_therapist())
    floor = reverse("floor", args=[an_episode(assigned_to=therapist).pk])
    for passed_on in (False, True):
        by_pin(gym, therapist)
        session = gym.session
        session["seen_at"] = (now() - timedelta(minutes=settings.PIN_IDLE_MINUTES + 1)).isoformat()
        session.save()
        led = gym.post(reverse("hand_over"), {"next": floor}) if passed_on else gym.get(floor)
        assert led["Location"] == f"/tablet/?{urlencode({'next': floor})}"
        first = "/" if another and not passed_on else floor
        assert by_pin(gym, colleague if another else therapist, to=floor) == first
        gym.post(reverse("sign_out"))


def test_the_session_cookie_alone_is_worth_nothing_on_another_device(gym: Client) -> None:
    therapist = a_pin(a_therapist())
    by_pin(gym, therapist)
    elsewhere = Client()
    elsewhere.cookies[settings.SESSION_COOKIE_NAME] = gym.cookies[settings.SESSION_COOKIE_NAME].value
    assert elsewhere.get("/")["Location"].startswith("/sign-in/")


def test_the_list_of_tablets_says_where_what_one_still_keeps_is_told(gym: Client, enter: Enter) -> None:
    said = page_of(enter(a_lead()), reverse("tablets"))
    assert "What a tablet still keeps unsent is not known here" in said


def test_a_revoked_tablet_ends_whoever_is_signed_in_on_it_at_the_next_request(gym: Client, enter: Enter) -> None:
    therapist, lead = a_pin(a_therapist()), a_lead()
    by_pin(gym, therapist)
    assert gym.get("/").status_code == 200
    tablet = Tablet.objects.get()
    enter(lead).post(reverse("revoke_tablet", args=[tablet.pk]), {"reason": "left on the bus"})
    assert gym.get("/")["Location"].startswith("/sign-in/")
    assert by_pin(gym, therapist) == "/tablet/"
    page = gym.get("/sign-in/").content.decode()
    assert "A clinic lead has revoked this tablet" in page
    assert "Nobody had used this page" not in page, "one reason, the true one"


@pytest.mark.parametrize("another", [False, True])
def test_who_signs_in_where_a_lead_revoked_their_own_tablet_begins_on_a_page_of_their_own(
    gym: Client, another: bool
) -> None:
    lead, tablets = a_lead(), reverse("tablets")
    in_through_the_door(gym, lead)
    gym.post(reverse("revoke_tablet", args=[Tablet.objects.get().pk]), {"reason": "left on the bus"})
    led = gym.get(tablets)["Location"]
    assert led == f"/sign-in/?{urlencode({'next': tablets})}"
    said = page_of(gym, led)
    assert "Whoever was signed in here goes on where they were; anybody else begins on a page of their own." in said
    assert "Sign in to go on where this device was" not in said
    comes = a_records_officer() if another else lead
    assert in_through_the_door(gym, comes, next=tablets)["Location"] == ("/trail/" if another else tablets)


def test_before_a_tablet_is_revoked_the_lead_reads_what_becomes_of_what_it_has_not_sent(
    gym: Client, enter: Enter
) -> None:
    page = page_of(enter(a_lead()), reverse("revoke_tablet", args=[Tablet.objects.get().pk]))
    assert "stays there, sealed: whoever signs in on it with name and password passes it on" in page
    assert "It was last in reach of the server" in page


def test_the_line_of_a_revoked_tablet_says_what_may_still_be_on_it(gym: Client, enter: Enter) -> None:
    lead = enter(a_lead())
    lead.post(reverse("revoke_tablet", args=[Tablet.objects.get().pk]), {"reason": "left on the bus"})
    page = page_of(lead, reverse("tablets"))
    assert "left on the bus" in page
    assert re.search(r"last in reach [^<]+: what was recorded on it since may still be on it", page)
    assert "None here. A tablet that is away may hold some." in page


@pytest.mark.parametrize(("second", "kept"), [(59, False), (61, True), (117, True)])
def test_the_minute_in_which_a_tablet_was_last_in_reach_is_the_one_that_is_kept(
    gym: Client, second: int, kept: bool
) -> None:
    begun = datetime(2026, 3, 2, 22, 13, tzinfo=UTC)
    first, later = begun + timedelta(seconds=58 if kept else 0), begun + timedelta(seconds=second)
    Tablet.objects.update(seen_at=first)
    services.note_seen(Tablet.objects.get(), at=later)
    assert Tablet.objects.get().seen_at == (later if kept else first)


# --- enrolled --------------------------------------------------------------------------------------------------------
def test_a_lead_enrols_a_tablet_by_a_code_typed_on_it(enter: Enter, client: Client) -> None:
    lead = a_lead()
    desk = enter(lead)
    told = desk.post(reverse("add_tablet"), {"name": "By the stairs", "site_id": lead.site_id})
    code = told.context["awaited"].code
    assert "waits for its code" in page_of(desk, reverse("tablets"))
    answer = client.post(
        reverse("enrol_tablet"), {"code": code}, headers={"User-Agent": "Mozilla/5.0 (Linux; Android 14)"}
    )
    kept = answer.cookies[cookie.NAME]
    assert (kept["httponly"], kept["samesite"], len(kept.value) > 70) == (True, "Lax", True)
    assert "Who records?" in page_of(client, answer["Location"])
    listed = page_of(desk, reverse("tablets"))
    assert "By the stairs" in listed
    assert "tablet, Android" in listed


def test_a_lead_who_signs_in_on_it_enrols_it_and_is_signed_out_there(enter: Enter) -> None:
    lead = a_lead()
    browser = enter(lead)
    browser.post(reverse("enrol_here"), {"name": "By the bars", "site_id": lead.site_id})
    assert browser.get("/staff/")["Location"].startswith("/tablet/")
    assert not StaffSession.objects.filter(staff=lead, ended_at__isnull=True).exists()


def test_the_lead_reads_when_each_tablet_was_last_seen(gym: Client, enter: Enter) -> None:
    Tablet.objects.update(seen_at=now() - timedelta(days=20))
    lead = enter(a_lead())
    assert "not seen for long" in page_of(lead, reverse("tablets"))
    gym.get("/tablet/")
    assert "not seen for long" not in page_of(lead, reverse("tablets"))
