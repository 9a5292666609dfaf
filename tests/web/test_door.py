"""The door: who comes in, who does not, what a person reads, and what the trail says of it."""

from __future__ import annotations

from collections.abc import Callable
from datetime import timedelta

import pytest
from django.contrib.auth import authenticate
from django.test import Client
from knox.models import AuthToken

from clinic import clock
from clinic.errors import Denied, Refusal
from clinic.models import SignInAttempt, Staff, TrailRow
from clinic.staff import attempts
from clinic.staff.attempts import LockedOut
from clinic.staff.reauthenticate import WrongPassword, confirm
from clinic.staff.services import give_password
from tests.makers import PASSWORD, a_code, a_lead, a_proof, a_records_officer, a_therapist, in_through_the_door

pytestmark = pytest.mark.django_db
Enter = Callable[..., Client]
WRONG = "wrong, and long enough"


def guess(browser: Client, staff: Staff, password: str = WRONG, *, address: str = "127.0.0.1") -> str:
    """What the page says after this name and password; after the right one the code of the second step follows."""
    answer = browser.post("/sign-in/", {"username": staff.username, "password": password}, REMOTE_ADDR=address)
    if answer.status_code == 302 and answer["Location"] == "/sign-in/second/":
        answer = browser.post("/sign-in/second/", {"one_time_code": a_code(staff)}, REMOTE_ADDR=address)
    return answer.content.decode() if answer.status_code != 302 else "in"


def verbs(staff: Staff) -> list[str]:
    """What the trail holds about this account, oldest first."""
    return list(TrailRow.objects.filter(subject_id=staff.reference).order_by("number").values_list("verb", flat=True))


def test_a_stranger_is_led_to_the_sign_in_page_and_then_on_to_where_they_wanted(client: Client) -> None:
    staff = a_therapist()
    led = client.get("/password/")
    assert led["Location"] == "/sign-in/?next=%2Fpassword%2F"
    assert in_through_the_door(client, staff, next="/password/")["Location"] == "/password/"


def test_next_leads_nowhere_else(client: Client) -> None:
    staff = a_therapist()
    assert in_through_the_door(client, staff, next="https://elsewhere.example/")["Location"].startswith("/")


def test_the_name_is_taken_in_either_case(client: Client) -> None:
    staff = a_therapist()
    staff.username = staff.username.upper()
    assert guess(client, staff, PASSWORD) == "in"


def test_each_role_begins_on_a_page_that_it_may_see(enter: Enter) -> None:
    browser = enter(a_records_officer())
    assert browser.get("/sign-in/")["Location"] == "/trail/"


def test_signing_in_failing_and_signing_out_each_leave_a_row(client: Client) -> None:
    staff = a_therapist()
    guess(client, staff)
    guess(client, staff, PASSWORD)
    client.post("/sign-out/")
    assert verbs(staff) == ["sign_in.failed", "sign_in.succeeded", "session.closed"]
    assert TrailRow.objects.get(verb="sign_in.succeeded").origin == "page 127.0.0.1"


def test_a_failed_sign_in_names_no_actor_and_no_unknown_name(client: Client) -> None:
    client.post("/sign-in/", {"username": "my password by mistake", "password": "x"})
    row = TrailRow.objects.get(verb="sign_in.failed")
    assert (row.actor, row.subject_id) == (None, "unknown name")
    assert "mistake" not in str(row.detail)


def test_a_wrong_name_and_a_wrong_password_read_the_same(client: Client) -> None:
    staff = a_therapist()
    nobody = client.post("/sign-in/", {"username": "nobody-here", "password": WRONG}).content.decode()
    assert "do not go together" in nobody
    assert "do not go together" in guess(client, staff)


def test_after_five_wrong_passwords_even_the_right_one_is_refused_in_a_clear_sentence(client: Client) -> None:
    staff = a_therapist()
    for _ in range(attempts.FROM_HERE):
        assert "do not go together" in guess(client, staff)
    said = guess(client, staff, PASSWORD)
    assert "Too many wrong passwords" in said
    assert "15 minutes" in said
    assert "ask a clinic lead" in said
    assert verbs(staff)[-1] == "sign_in.locked_out"


def test_four_wrong_passwords_lock_nobody_out(client: Client) -> None:
    staff = a_therapist()
    for _ in range(attempts.FROM_HERE - 1):
        guess(client, staff)
    assert guess(client, staff, PASSWORD) == "in"


def test_the_right_password_wipes_the_wrong_ones_out(client: Client) -> None:
    staff = a_therapist()
    for _ in range(attempts.FROM_HERE - 1):
        guess(client, staff)
    guess(client, staff, PASSWORD)
    client.post("/sign-out/")
    for _ in range(attempts.FROM_HERE - 1):
        guess(client, staff)
    assert guess(client, staff, PASSWORD) == "in"


def test_guesses_from_elsewhere_do_not_lock_a_colleague_out_here(client: Client) -> None:
    staff = a_therapist()
    for _ in range(attempts.FROM_HERE + 3):
        guess(client, staff, address="203.0.113.9")
    assert guess(client, staff, PASSWORD) == "in"


def test_guesses_from_many_places_lock_the_name_everywhere(client: Client) -> None:
    staff = a_therapist()
    for number in range(attempts.FROM_ANYWHERE):
        guess(client, staff, address=f"203.0.113.{number}")
    assert "Too many wrong passwords" in guess(client, staff, PASSWORD)


def test_the_lock_opens_after_its_time(client: Client) -> None:
    staff = a_therapist()
    for _ in range(attempts.FROM_HERE):
        guess(client, staff)
    SignInAttempt.objects.update(at=clock.now() - attempts.WINDOW - timedelta(seconds=1))
    assert guess(client, staff, PASSWORD) == "in"


def test_a_new_password_from_the_lead_opens_the_lock(client: Client) -> None:
    staff = a_therapist()
    for _ in range(attempts.FROM_HERE):
        guess(client, staff)
    taken = give_password(actor=a_lead(), staff_id=staff.pk)
    assert guess(client, staff, taken.password) == "in"


def test_whoever_asks_django_to_authenticate_meets_the_same_lock() -> None:
    staff = a_therapist()
    for _ in range(attempts.FROM_HERE):
        assert authenticate(None, username=staff.username, password=WRONG) is None
    assert authenticate(None, username=staff.username, password=PASSWORD) is None


def test_asked_again_for_the_password_the_right_one_passes_silently() -> None:
    staff = a_therapist()
    confirm(staff, a_proof(staff))
    assert verbs(staff) == []


def test_asked_again_wrong_passwords_count_towards_the_same_lock(client: Client) -> None:
    staff = a_therapist()
    for _ in range(attempts.FROM_HERE):
        with pytest.raises(WrongPassword):
            confirm(staff, a_proof(staff, password=WRONG))
    with pytest.raises(LockedOut):
        confirm(staff, a_proof(staff))


def test_a_password_that_a_lead_gave_signs_for_nothing() -> None:
    taken = give_password(actor=a_lead(), staff_id=a_therapist().pk)
    with pytest.raises(Denied, match="password of your own"):
        confirm(taken.staff, a_proof(taken.staff, password=taken.password))


def test_a_closed_account_does_not_come_in_and_does_not_stay_in(client: Client, enter: Enter) -> None:
    staff = a_therapist()
    browser = enter(staff)
    Staff.objects.filter(pk=staff.pk).update(is_active=False)
    assert browser.get("/password/")["Location"].startswith("/sign-in/")
    assert "closed" in guess(client, staff, PASSWORD)


def test_a_password_given_by_a_lead_must_be_changed_before_anything_else(client: Client) -> None:
    lead = a_lead()
    taken = give_password(actor=lead, staff_id=a_lead().pk)
    assert guess(client, taken.staff, taken.password) == "in"
    assert client.get("/staff/")["Location"] == "/password/"
    new = {
        "old_password": taken.password,
        "new_password": "seven brass rails hum",
        "again_password": "seven brass rails hum",
    }
    assert client.post("/password/", new).status_code == 302
    assert client.get("/staff/").status_code == 200
    assert verbs(taken.staff)[-1] == "password.changed"


def test_neither_does_it_open_the_api(client: Client) -> None:
    taken = give_password(actor=a_lead(), staff_id=a_lead().pk)
    guess(client, taken.staff, taken.password)
    assert client.get("/api/v1/staff/").status_code == 403


def test_a_new_password_ends_the_tokens_of_programmes(enter: Enter) -> None:
    lead, therapist = a_lead(), a_therapist()
    AuthToken.objects.create(user=therapist)
    AuthToken.objects.create(user=lead)
    give_password(actor=lead, staff_id=therapist.pk)
    assert list(AuthToken.objects.values_list("user", flat=True)) == [lead.pk]
    new = {"old_password": PASSWORD, "new_password": "seven brass rails hum", "again_password": "seven brass rails hum"}
    enter(lead).post("/password/", new)
    assert not AuthToken.objects.exists()


def test_a_given_password_is_good_for_three_days(client: Client) -> None:
    taken = give_password(actor=a_lead(), staff_id=a_therapist().pk)
    Staff.objects.filter(pk=taken.staff.pk).update(password_given_at=clock.now() - timedelta(days=3, minutes=1))
    assert "good for three days" in guess(client, taken.staff, taken.password)


def test_changing_a_password_ends_the_sessions_elsewhere_and_keeps_this_one(enter: Enter) -> None:
    lead = a_lead()
    here, elsewhere = enter(lead), enter(lead)
    new = {"old_password": PASSWORD, "new_password": "seven brass rails hum", "again_password": "seven brass rails hum"}
    here.post("/password/", new)
    assert here.get("/staff/").status_code == 200
    assert elsewhere.get("/staff/").status_code == 302


@pytest.mark.parametrize(
    "password",
    [
        "fourteen chars",
        "aaaaaaaaaaaaaaa",
        "123456789012345",
        "iloveyouiloveyou",
        "password1234567",
        "qwertyuiopasdfg",
        "abcabcabcabcabcabc",
        "Our-Clinic-2026",
    ],
)
def test_a_password_that_is_guessed_first_is_refused(enter: Enter, password: str) -> None:
    browser = enter(a_lead())
    said = {"old_password": PASSWORD, "new_password": password, "again_password": password}
    assert browser.post("/password/", said).status_code == 422


def test_a_password_never_comes_back_in_a_page(client: Client) -> None:
    assert WRONG not in guess(client, a_therapist())


def test_signing_in_gives_the_session_a_new_key(client: Client) -> None:
    staff = a_therapist()
    client.get("/password/")
    before = client.session.session_key
    guess(client, staff, PASSWORD)
    assert client.session.session_key != before


def test_refusals_are_of_one_family() -> None:
    assert issubclass(WrongPassword, Refusal)
    assert issubclass(LockedOut, Refusal)
