"""What a password may be, after NIST SP 800-63B-4 (sentences as quoted in OWASP/ASVS issue 3242), and how often one may
be wrong."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.test import override_settings

from clinic import clock
from clinic.errors import Invalid
from clinic.models import SignInAttempt
from clinic.staff import attempts
from clinic.staff.attempts import LockedOut
from clinic.staff.own_password import change_password, require_good
from clinic.staff.services import give_password
from clinic.staff.sign_in import MOST_WRONG, CannotSignIn, first_step
from clinic.watch.models import Alarm
from tests.makers import PASSWORD, a_lead, a_site, a_staff, a_therapist

pytestmark = pytest.mark.django_db(transaction=True)
GUESSED_FIRST = [  # found to pass Django's own validators at 15 characters, or of the same kinds
    "aaaaaaaaaaaaaaa",
    "123456789012345",
    "iloveyouiloveyou",
    "password1234567",
    "passwordpassword",
    "PasswordPassword!",
    "p@ssw0rdp@ssw0rd",
    "Sunshine2026Sunshine",
    "1234sunshine5678",
    "welcome-welcome-1",
    "qwertyuiopasdfg",
    "zxcvbnmasdfghjkl",
    "abcabcabcabcabcabc",
    "987654321987654321",
    "ｐａｓｓｗｏｒｄｐａｓｓｗｏｒｄ",
]
OF_HERE = [
    "Alder Reach 2026",
    "AlderReachClinic1",
    "quaystreet-quaystreet",
    "Quay Street 12345",
    "Marit Sandhollow1",
    "sandhollow-marit-99",
    "marit.sandhollow",
    "hospitalclinic2026",
    "therapistpatient1",
]
GOOD = [
    "seven brass rails hum",
    "a quiet bar beside the window",
    "elf zwölf boxkämpfer jagen",
    "zzzz over the marble quay at dawn",
    "correct7horse8battery9staple",
    "x" * 3 + "kettle lamp orchard",
    "七つの真鍮の手すりが静かに鳴っている夜",
]


@pytest.fixture
def marit() -> object:
    a_site("Quay Street")
    return a_lead(name="Marit Sandhollow", username="msandhollow", email="marit.sandhollow@alder-reach.example")


@pytest.mark.parametrize("password", GUESSED_FIRST)
def test_what_is_guessed_first_anywhere_is_refused_with_the_reason(password: str) -> None:
    with pytest.raises(Invalid) as refused:
        require_good(password, a_therapist())
    assert refused.value.reasons


@override_settings(CLINIC_NAME="Alder Reach")
@pytest.mark.parametrize("password", OF_HERE)
def test_what_is_guessed_first_here_is_refused(marit: object, password: str) -> None:
    with pytest.raises(Invalid, match=r"anybody would try here|too similar|said again"):
        require_good(password, marit)  # type: ignore[arg-type]  # Staff is what it takes


@override_settings(CLINIC_NAME="Alder Reach")
@pytest.mark.parametrize("password", GOOD)
def test_several_words_that_do_not_belong_together_are_taken(marit: object, password: str) -> None:
    require_good(password, marit)  # type: ignore[arg-type]  # Staff is what it takes


def test_fourteen_characters_are_too_few_and_fifteen_are_not() -> None:
    with pytest.raises(Invalid, match="15"):
        require_good("kettle lamp or", a_therapist())
    require_good("kettle lamp orc", a_therapist())


@pytest.mark.parametrize("length", [64, 200, 900])
def test_long_ones_are_taken_whole(length: int) -> None:
    """At least 64 are to be permitted; none is cut short."""
    staff, word = a_therapist(), " ".join(f"kettle {number} orchard" for number in range(60))[:length]
    change_password(actor=staff, old=PASSWORD, new=word)
    assert staff.check_password(word)
    assert not staff.check_password(word[:-1])


def test_there_is_no_rule_of_composition_and_no_age() -> None:
    require_good("kettle lamp orchard stone", a_therapist())
    staff = a_therapist()
    type(staff).objects.filter(pk=staff.pk).update(joined_at=clock.now() - timedelta(days=4000))
    assert first_step(username=staff.username, password=PASSWORD) == staff


def test_the_same_letters_count_however_the_keyboard_composed_them() -> None:
    staff = a_therapist()
    composed, apart = "boxkämpfer jagen viktor", "boxka\u0308mpfer jagen viktor"
    change_password(actor=staff, old=PASSWORD, new=apart)
    assert staff.check_password(composed)
    assert staff.check_password("ｂｏｘｋämpfer jagen viktor")


def wrong(username: str) -> None:
    with pytest.raises(CannotSignIn):
        first_step(username=username, password="wrong, and long enough")


def test_after_a_hundred_wrong_ones_in_a_row_however_slowly_a_password_is_shut() -> None:
    staff = a_staff()
    type(staff).objects.filter(pk=staff.pk).update(wrong_passwords=MOST_WRONG - 1)
    wrong(staff.username)
    SignInAttempt.objects.update(at=clock.now() - attempts.WINDOW * 2)
    for _ in range(2):
        with pytest.raises(LockedOut, match="new password"):
            first_step(username=staff.username, password=PASSWORD)
    assert [alarm.kind for alarm in Alarm.objects.all()] == ["password.shut"]
    taken = give_password(actor=a_lead(), staff_id=staff.pk)
    assert first_step(username=staff.username, password=taken.password) == staff


def test_a_right_one_begins_the_count_anew() -> None:
    staff = a_staff()
    wrong(staff.username)
    staff.refresh_from_db()
    assert staff.wrong_passwords == 1
    first_step(username=staff.username, password=PASSWORD)
    staff.refresh_from_db()
    assert staff.wrong_passwords == 0
