"""Showing again who one is, by the rules of 21 CFR 11.200(a): everything at first, less later in the same sitting, and
everything again after any break. And what becomes of trying in vain."""

from __future__ import annotations

from collections.abc import Callable
from datetime import timedelta
from typing import Any

import pytest
from django.conf import settings
from django.contrib.sessions.backends.db import SessionStore
from django.test import Client, override_settings

from caseload.models import Episode
from checklists.models import Signature
from checklists.signoff.services import NoAuthority, readiness, sign_off
from clinic import clock
from clinic.access import Assurance, assurance
from clinic.audit.models import TrailRow
from clinic.errors import Denied, Refusal
from clinic.staff.factors import services as factors
from clinic.staff.factors.check import NoFactor, WrongCode
from clinic.staff.factors.lost import remove_lost_factor
from clinic.staff.factors.models import in_use
from clinic.staff.identity import check_identity
from clinic.staff.models import Staff
from clinic.staff.own_password import change_password
from clinic.staff.reauthenticate import IN_VAIN, NotConfirmed, Proof, Shown, WrongPassword, confirm
from clinic.staff.services import give_password
from clinic.staff.sign_in import sign_in
from clinic.staff.sitting import InMemory, sitting
from clinic.watch.models import Alarm
from clinic.web.sitting import OfSession
from tests.makers import (
    PASSWORD,
    SECRET,
    a_code,
    a_lead,
    a_proof,
    a_therapist,
    ago,
    an_attempt,
    an_episode,
    in_through_the_door,
    recorded,
)

pytestmark = pytest.mark.django_db(transaction=True)
SKILL = "don_check"


def proven(signer: Staff, skill: str = SKILL) -> Episode:
    episode = an_episode(assigned_to=signer)
    for days in (2, 1, 1):
        recorded(signer, episode, an_attempt(skill, "none", help="watching", at=ago(days=days)))
    return episode


# --- one sitting ------------------------------------------------------------------------------------------------------
@pytest.mark.parametrize("given", [{"code": ""}, {"password": ""}, {"password": "", "code": ""}])
def test_the_first_signature_takes_all_components(given: dict[str, str]) -> None:
    staff = a_therapist()
    with sitting(InMemory()), pytest.raises(NotConfirmed):
        confirm(staff, a_proof(staff, **given))


@pytest.mark.parametrize(
    ("given", "shown"),
    [({"code": ""}, Shown.PASSWORD), ({"password": ""}, Shown.CODE), ({}, Shown.PASSWORD_AND_CODE)],
)
def test_a_later_one_in_the_same_sitting_takes_one_that_only_the_signer_has(given: Any, shown: Shown) -> None:
    staff = a_therapist()
    with sitting(InMemory()):
        assert confirm(staff, a_proof(staff)) is Shown.PASSWORD_AND_CODE
        assert confirm(staff, a_proof(staff, **given)) is shown


def test_a_later_one_still_takes_one() -> None:
    staff = a_therapist()
    with sitting(InMemory()):
        confirm(staff, a_proof(staff))
        with pytest.raises(NotConfirmed):
            confirm(staff, Proof())


def test_what_is_wrong_is_never_passed_over_where_less_would_do() -> None:
    staff = a_therapist()
    with sitting(InMemory()):
        confirm(staff, a_proof(staff))
        with pytest.raises(WrongCode):
            confirm(staff, a_proof(staff, code="000000"))


def test_without_a_sitting_it_is_all_of_them_each_time() -> None:
    """As by a token, or a command."""
    staff = a_therapist()
    confirm(staff, a_proof(staff))
    with pytest.raises(NotConfirmed):
        confirm(staff, a_proof(staff, code=""))


def test_a_sitting_is_one_persons() -> None:
    staff, other = a_therapist(), a_therapist()
    with sitting(InMemory()):
        confirm(staff, a_proof(staff))
        with pytest.raises(NotConfirmed):
            confirm(other, a_proof(other, code=""))


def test_a_change_of_factors_takes_all_of_them_also_later() -> None:
    staff = a_therapist()
    with sitting(InMemory()):
        confirm(staff, a_proof(staff))
        with pytest.raises(NotConfirmed):
            factors.rename_factor(
                actor=staff, factor_id=in_use(staff).get().pk, proof=a_proof(staff, code=""), name="other"
            )


def test_a_recovery_code_counts_with_the_password_and_not_alone() -> None:
    staff = a_therapist()
    codes = factors.make_recovery_codes(actor=staff, proof=a_proof(staff))
    assert confirm(staff, a_proof(staff, code=codes[0])) is Shown.PASSWORD_AND_RECOVERY
    with sitting(InMemory()):
        confirm(staff, a_proof(staff))
        with pytest.raises(NotConfirmed, match="still good"):
            confirm(staff, Proof(code=codes[1]))
        assert confirm(staff, a_proof(staff, code=codes[1])) is Shown.PASSWORD_AND_RECOVERY


def test_a_pin_confirms_nothing() -> None:
    staff = a_therapist()
    with assurance.acting(Assurance.PIN), pytest.raises(Denied):
        confirm(staff, a_proof(staff))


def test_who_has_no_second_factor_signs_nothing() -> None:
    staff = a_therapist(factor=False)
    with pytest.raises(NoFactor, match="Add a second factor first"):
        confirm(staff, Proof(PASSWORD, "123456"))


# --- a browser's session is a sitting ---------------------------------------------------------------------------------
Sign = Callable[..., int]


@pytest.fixture
def sign() -> Sign:
    """Sign a fresh episode's skill at this browser with what is given; returns the status."""

    def at(browser: Client, staff: Staff, **given: str) -> int:
        episode = proven(staff)
        address = f"/people/{episode.pk}/sign-off/{SKILL}/"
        digest = readiness(actor=staff, episode_id=episode.pk, skill=SKILL).digest
        answer = browser.post(address, {"digest": digest, "meaning": "approval", **given})
        return answer.status_code

    return at


def both(staff: Staff) -> dict[str, str]:
    return {"password": PASSWORD, "one_time_code": a_code(staff)}


def test_signing_by_a_session_alone_or_half_is_refused_and_later_half_will_do(sign: Sign) -> None:
    staff, browser = (who := a_therapist()), Client()
    in_through_the_door(browser, who)
    assert sign(browser, staff) == 403
    assert sign(browser, staff, password=PASSWORD) == 403
    assert sign(browser, staff, **both(staff)) == 302
    assert sign(browser, staff, password=PASSWORD) == 302
    assert sign(browser, staff, one_time_code=a_code(staff)) == 302
    assert list(Signature.objects.order_by("signed_at").values_list("shown", flat=True)) == [
        "password and one-time code",
        "password",
        "one-time code",
    ]


def test_after_signing_out_and_in_again_it_is_all_of_them(sign: Sign) -> None:
    staff, browser = (who := a_therapist()), Client()
    in_through_the_door(browser, who)
    sign(browser, staff, **both(staff))
    browser.post("/sign-out/")
    in_through_the_door(browser, staff)
    assert sign(browser, staff, password=PASSWORD) == 403


def test_after_the_time_out_it_is_all_of_them(sign: Sign) -> None:
    staff, browser = (who := a_therapist()), Client()
    in_through_the_door(browser, who)
    sign(browser, staff, **both(staff))
    later = clock.now() + timedelta(seconds=settings.IDLE_SECONDS + 5)
    with override_settings(CLOCK_CAN_BE_SET=True), clock.at_instant(later):
        assert browser.get("/").status_code == 302
    in_through_the_door(browser, staff)
    assert sign(browser, staff, password=PASSWORD) == 403


def test_another_browser_of_the_same_person_is_another_sitting(sign: Sign) -> None:
    staff, one, other = a_therapist(), Client(), Client()
    for browser in (one, other):
        in_through_the_door(browser, staff)
    sign(one, staff, **both(staff))
    assert sign(other, staff, password=PASSWORD) == 403


def test_a_session_with_a_new_key_is_a_new_sitting() -> None:
    staff, store = a_therapist(), SessionStore()
    store.create()
    here = OfSession(store)
    here.note_all_shown(staff)
    assert here.all_shown(staff)
    store.cycle_key()
    assert not here.all_shown(staff)


# --- in vain ----------------------------------------------------------------------------------------------------------
@pytest.mark.parametrize(
    ("given", "refusal"), [({"password": "not this one"}, WrongPassword), ({"code": "000000"}, WrongCode)]
)
def test_three_bad_signings_are_one_alarm_at_once(given: dict[str, str], refusal: type[Refusal]) -> None:
    staff, episode = (who := a_therapist()), proven(who)
    digest = readiness(actor=staff, episode_id=episode.pk, skill=SKILL).digest
    for tried in range(1, IN_VAIN + 2):
        with pytest.raises(refusal):
            sign_off(actor=staff, episode_id=episode.pk, skill=SKILL, digest=digest, proof=a_proof(staff, **given))
        assert Alarm.objects.count() == (1 if tried >= IN_VAIN else 0)
    assert staff.reference in Alarm.objects.get().text
    assert TrailRow.objects.filter(verb="signing.tried_in_vain", actor=staff).count() == IN_VAIN + 1


def test_two_and_a_right_one_are_no_alarm() -> None:
    staff = a_therapist()
    for _ in range(IN_VAIN - 1):
        with pytest.raises(WrongPassword):
            confirm(staff, a_proof(staff, password="not this one"))
    confirm(staff, a_proof(staff))
    assert not Alarm.objects.exists()


# --- two people for misuse (21 CFR 11.200(a)(3)) ----------------------------------------------------------------------
def test_a_lead_who_gives_a_password_does_not_sign_in_with_it_as_them() -> None:
    lead, staff = a_lead(), a_therapist()
    taken = give_password(actor=lead, staff_id=staff.pk)
    with pytest.raises(Refusal, match="code of your second factor"):
        sign_in(username=staff.username, password=taken.password)
    assert set(TrailRow.objects.values_list("verb", flat=True)) >= {"password.given"}


def test_not_even_a_lead_who_took_the_factor_away_too_signs_as_them() -> None:
    """One lead alone gives a password, takes the factor away, adds one of their own: the identity stands in the way."""
    lead, staff = a_lead(), a_therapist()
    episode = proven(staff)
    taken = give_password(actor=lead, staff_id=staff.pk)
    remove_lost_factor(actor=lead, staff_id=staff.pk, factor_id=in_use(staff).get().pk, how="So they say.")
    staff = sign_in(username=staff.username, password=taken.password).staff
    change_password(actor=staff, old=taken.password, new=PASSWORD)
    factors.add_app(actor=staff, proof=Proof(PASSWORD), name="telephone", secret=SECRET, code=a_code(staff))
    digest = readiness(actor=staff, episode_id=episode.pk, skill=SKILL).digest
    with pytest.raises(NoAuthority, match="identity has not been checked"):
        sign_off(actor=staff, episode_id=episode.pk, skill=SKILL, digest=digest, proof=a_proof(staff))
    with pytest.raises(Denied, match="somebody else checks"):
        check_identity(actor=lead, staff_id=staff.pk, how="It is I, after all.")
    verbs = set(TrailRow.objects.filter(subject_id=staff.reference).values_list("verb", flat=True))
    assert verbs >= {"password.given", "factor.removed", "factor.added", "password.changed"}
