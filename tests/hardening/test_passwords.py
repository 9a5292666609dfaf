"""What a password may be: NIST SP 800-63B-4 and ASVS 5.0.0, V6.2 (numbers read there)."""

from __future__ import annotations

from collections.abc import Callable
from datetime import timedelta

import pytest
from argon2 import extract_parameters
from django.contrib.auth.hashers import Argon2PasswordHasher
from django.contrib.auth.password_validation import CommonPasswordValidator, validate_password
from django.core.exceptions import ValidationError
from django.test import Client

from clinic import clock
from clinic.models import Staff
from tests.hardening.markup import fields
from tests.makers import PASSWORD, a_lead, a_therapist

pytestmark = pytest.mark.django_db
pytestmark = pytest.mark.django_db  # the names of the sites are among what is refused
Enter = Callable[..., Client]
GOOD = "Lantern over wet gravel"


def accepted(password: str, staff: Staff | None = None) -> bool:
    try:
        validate_password(password, staff)
    except ValidationError:
        return False
    return True


@pytest.mark.parametrize(("password", "good"), [("gravel lantern", False), ("gravel lanterns", True)])
def test_fifteen_characters_are_the_least(password: str, good: bool) -> None:
    """V6.2.1: alone it counts 15."""
    assert accepted(password) is good


@pytest.mark.parametrize("length", [64, 128])
def test_long_ones_are_taken(length: int) -> None:
    """V6.2.9"""
    assert accepted(
        (GOOD + " past the orchard, nine crows, a kettle and some string for the blue bicycle " * 2)[:length]
    )


@pytest.mark.parametrize(
    "password",
    [
        *("gravel lantern orchard", "GRAVEL LANTERN ORCHARD", "kies laterne obstgarten", "łańcuch żwir światło ós"),
        *("砂利 ランタン 果樹園 かもめ 自転車", "9274 0186 3315 8420 77", "🪵🏮🌧️🚲🪣🧵 over the gravel"),
    ],
)
def test_any_characters_will_do_and_none_are_demanded(password: str) -> None:
    """V6.2.5: no rule about capitals, digits or signs."""
    assert accepted(password)


@pytest.mark.parametrize("other", [GOOD + " ", " " + GOOD, GOOD.lower(), GOOD[:-1], GOOD + "\0"])
def test_a_password_is_compared_exactly_as_it_was_typed(other: str) -> None:
    """V6.2.8: not cut, not lowered, not stripped; 64 characters and more count to the last."""
    staff = a_therapist()
    long = GOOD * 6
    for right in (GOOD, long):
        staff.set_password(right)
        staff.save()
        assert Staff.objects.get(pk=staff.pk).check_password(right)
        assert not Staff.objects.get(pk=staff.pk).check_password(right.replace(GOOD, other, 1))
    assert not staff.check_password(long[:-1])


def test_the_most_common_ones_are_refused_bare_doubled_and_with_a_tail() -> None:
    """V6.2.4: Django's list of some 20,000 that were stolen; hardly any has 15 characters, so also what people do to
    reach them."""
    common = sorted(CommonPasswordValidator().passwords)
    assert len(common) > 3_000
    long = [word for word in common if len(word) >= 15]
    assert long
    assert [word for word in long if accepted(word)] == []
    sample = [word for word in common if 7 <= len(word) <= 9][:: max(1, len(common) // 400)]
    assert len(sample) > 100
    assert [word for word in sample if accepted((word * 3)[: len(word) * 2])] == []
    tailed = [word + "1234567890"[: 15 - len(word)] for word in sample if word.isalpha()]
    assert [word for word in tailed if accepted(word)] == []


def test_words_of_this_place_do_not_make_a_password(settings: object) -> None:
    """V6.1.2, V6.2.11: the clinic's name, one's own name, reference and address."""
    settings.CLINIC_NAME = "Alder Reach Walking Clinic"  # type: ignore[attr-defined]  # the fixture takes any setting
    staff = a_therapist(name="Runa Quillensworth-Hall", email="runa.quillensworth@alder-reach.example")
    for word in ("alderreachwalkingclinic1", "Alder Reach Walking Clinic", "quillensworth-hall", "Runa Quillensworth"):
        assert not accepted(word, staff), word


def test_nobody_must_change_a_password_that_is_good(enter: Enter) -> None:
    """V6.2.10: five years on it still opens."""
    staff = a_therapist()
    Staff.objects.filter(pk=staff.pk).update(joined_at=clock.now() - timedelta(days=1825))
    assert enter(staff).get("/password/").status_code == 200


def test_it_is_masked_may_be_pasted_and_filled_in(enter: Enter) -> None:
    """V6.2.6, V6.2.7: `type=password`, with the words by which a manager of passwords knows the field."""
    for page in (Client().get("/sign-in/"), enter(a_lead()).get("/password/")):
        found = list(fields(page.content.decode(), "password"))
        assert found
        for field in found:
            assert field.get("autocomplete") in ("current-password", "new-password"), field
            assert not [name for name in field if name.startswith("on")]
            assert int(field.get("maxlength", "9999")) >= 64


def test_changing_it_takes_the_present_one(enter: Enter) -> None:
    """V6.2.2, V6.2.3"""
    lead = a_lead()
    browser = enter(lead)
    wrong = {"old_password": "not this one at all", "new_password": GOOD, "again_password": GOOD}
    assert browser.post("/password/", wrong).status_code == 403
    assert Staff.objects.get(pk=lead.pk).check_password(PASSWORD)


def test_a_new_database_has_nobody_in_it() -> None:
    """V6.3.2: no account that everybody knows."""
    assert Staff.objects.count() == 0


def test_it_is_kept_by_a_function_that_costs_as_much_as_is_advised() -> None:
    """V11.4.2: Argon2id; the least of the OWASP cheat sheet is 19 MiB, 2 rounds, 1 lane (from memory)."""
    made = Argon2PasswordHasher().encode(GOOD, "a salt of sixteen").removeprefix("argon2")
    costs = extract_parameters(made)
    assert costs.type.name == "ID"
    assert costs.memory_cost >= 19 * 1024
    assert costs.time_cost >= 2
    assert costs.hash_len >= 32
