"""Whose account it is: checked by somebody who did not let them in, before they sign anything."""

from __future__ import annotations

import io
from typing import Any

import pytest
from django.core.management import CommandError, call_command
from django.db import IntegrityError, transaction

from checklists.signoff.countersign import CannotCountersign, Countersign
from checklists.signoff.services import NoAuthority, readiness, sign_off, withdraw_sign_off
from clinic import clock
from clinic.audit.models import TrailRow
from clinic.errors import Conflict, Denied, Invalid, NotFound
from clinic.staff import identity
from clinic.staff.factors.models import in_use
from clinic.staff.models import Staff, name_key
from clinic.staff.services import add_staff, give_password
from tests.makers import (
    PASSWORD,
    a_code,
    a_lead,
    a_proof,
    a_records_officer,
    a_site,
    a_therapist,
    ago,
    an_assistant,
    an_attempt,
    an_episode,
    recorded,
)

pytestmark = pytest.mark.django_db(transaction=True)
SKILL = "don_check"
HOW = "The passport was shown."


def unchecked(**more: Any) -> Staff:
    return a_therapist(identity_checked_at=None, **more)


def checks(actor: Staff, staff: Staff, how: str = HOW) -> Staff:
    return identity.check_identity(actor=actor, staff_id=staff.pk, how=how)


@pytest.mark.parametrize("make", [a_lead, a_records_officer])
def test_a_lead_or_a_records_officer_says_how_they_made_sure(make: Any) -> None:
    actor, staff = make(), unchecked()
    checks(actor, staff)
    staff.refresh_from_db()
    assert (staff.identity_checked_by, staff.identity_check) == (actor, HOW)
    row = TrailRow.objects.get(verb="identity.checked")
    assert (row.actor, row.detail["how"]) == (actor, HOW)


@pytest.mark.parametrize("make", [a_therapist, an_assistant])
def test_nobody_else_checks(make: Any) -> None:
    staff = unchecked()
    with pytest.raises((Denied, NotFound)):
        checks(make(), staff)
    staff.refresh_from_db()
    assert staff.identity_checked_at is None


def test_not_without_a_word() -> None:
    with pytest.raises(Invalid):
        checks(a_lead(), unchecked(), how=" ")


def test_nobody_checks_themselves() -> None:
    lead = a_lead()
    with pytest.raises(Denied, match="somebody else"):
        checks(lead, lead)
    with pytest.raises(IntegrityError, match="identity_checked_by_another"), transaction.atomic():
        Staff.objects.filter(pk=lead.pk).update(identity_checked_by=lead)


def test_whoever_took_them_on_does_not_check_them() -> None:
    lead, other = a_lead(), a_lead()
    taken = add_staff(actor=lead, name="N", username="n", email="", site_id=a_site().pk, roles=["therapist"]).staff
    with pytest.raises(Denied, match="You gave"):
        checks(lead, taken)
    checks(other, taken)


def test_whoever_is_unchecked_checks_nobody() -> None:
    """Else one lead alone could make a second account and check with that."""
    with pytest.raises(Denied, match="your own identity"):
        checks(a_lead(identity_checked_at=None), unchecked())


def test_of_a_closed_account_nothing_is_checked() -> None:
    with pytest.raises(Conflict):
        checks(a_lead(), unchecked(is_active=False))


def test_a_new_password_keeps_the_check_where_a_factor_of_their_own_stands() -> None:
    lead, staff = a_lead(), a_therapist()
    give_password(actor=lead, staff_id=staff.pk)
    staff.refresh_from_db()
    assert staff.identity_checked_at is not None
    assert staff.let_in_by == [lead.pk]


def test_a_new_password_ends_the_check_where_none_does() -> None:
    lead, staff = a_lead(), a_therapist(factor=False)
    give_password(actor=lead, staff_id=staff.pk)
    staff.refresh_from_db()
    assert staff.identity_checked_at is None
    with pytest.raises(Denied, match="You gave"):
        checks(lead, staff)


def test_the_keeper_of_the_server_checks_by_a_command() -> None:
    staff, out = unchecked(), io.StringIO()
    call_command("check_identity", staff.username.upper(), how=HOW, stdout=out)
    staff.refresh_from_db()
    assert (staff.identity_checked_by, staff.identity_check) == (None, HOW)
    assert TrailRow.objects.get(verb="identity.checked").actor is None
    with pytest.raises(CommandError, match="Nobody"):
        call_command("check_identity", "nobody-here", how=HOW)


def test_who_waits_is_listed_with_why_the_reader_is_not_the_one() -> None:
    lead, staff = a_lead(), unchecked(name="Dele Quarrie")
    Staff.objects.filter(pk=staff.pk).update(let_in_by=[lead.pk])
    (mine,) = identity.waiting(lead, at=clock.now())
    (others,) = identity.waiting(a_records_officer(), at=clock.now())
    assert (mine.name, bool(mine.why_not), bool(others.why_not)) == ("Dele Quarrie", True, False)


# --- signing ----------------------------------------------------------------------------------------------------------
def test_who_is_unchecked_signs_nothing_until_somebody_has_checked() -> None:
    staff = unchecked()
    episode = an_episode(assigned_to=staff)
    for days in (2, 1, 1):
        recorded(staff, episode, an_attempt(SKILL, "none", help="watching", at=ago(days=days)))

    def sign() -> None:
        digest = readiness(actor=staff, episode_id=episode.pk, skill=SKILL).digest
        sign_off(actor=staff, episode_id=episode.pk, skill=SKILL, digest=digest, proof=a_proof(staff))

    with pytest.raises(NoAuthority, match="identity has not been checked"):
        sign()
    checks(a_lead(), staff)
    staff.refresh_from_db()
    sign()
    Staff.objects.filter(pk=staff.pk).update(identity_checked_at=None)
    staff.refresh_from_db()
    with pytest.raises(identity.NotChecked):
        withdraw_sign_off(actor=staff, episode_id=episode.pk, skill=SKILL, reason="Skin.", proof=a_proof(staff))


def test_who_is_unchecked_does_not_countersign() -> None:
    signer, lead = a_therapist(), a_lead(identity_checked_at=None)
    episode = an_episode(assigned_to=signer)
    recorded(signer, episode, an_attempt(SKILL, "none", help="watching"))
    digest = readiness(actor=signer, episode_id=episode.pk, skill=SKILL).digest
    with pytest.raises(CannotCountersign, match="identity has not been checked"):
        sign_off(
            actor=signer,
            episode_id=episode.pk,
            skill=SKILL,
            digest=digest,
            proof=a_proof(signer),
            countersign=Countersign(lead.username, PASSWORD, "Seen.", a_code(lead)),
        )


# --- one name, one person, for ever -----------------------------------------------------------------------------------
@pytest.mark.parametrize("twin", ["marit", "MARIT", "Ｍａｒｉｔ", "  marit ", "m\uff41rit"])
def test_a_sign_in_name_that_looks_like_one_that_was_ever_used_is_refused(twin: str) -> None:
    """Case-folded and NFKC; also where the other has left (21 CFR 11.100(a), 11.300(a))."""
    a_therapist(username="marit", is_active=False)
    with pytest.raises(Conflict, match="or was"):
        add_staff(actor=a_lead(), name="N", username=twin, email="", site_id=a_site().pk, roles=["therapist"])


def test_the_database_refuses_a_twin_too() -> None:
    a_therapist(username="straße")
    with pytest.raises(IntegrityError), transaction.atomic():
        a_therapist(username="STRASSE")


@pytest.mark.parametrize("name", ["a\u200bb", "x" * 61, "\ufdfa" * 20, "tab\there"])
def test_a_sign_in_name_that_nobody_can_read_is_refused(name: str) -> None:
    with pytest.raises(Invalid):
        add_staff(actor=a_lead(), name="N", username=name, email="", site_id=a_site().pk, roles=["therapist"])


def test_a_reference_is_never_given_to_anybody_else() -> None:
    lead = a_lead()
    first = add_staff(actor=lead, name="N", username="n", email="", site_id=a_site().pk, roles=["therapist"]).staff
    Staff.objects.filter(pk=first.pk).update(is_active=False)
    second = add_staff(actor=lead, name="M", username="m", email="", site_id=a_site().pk, roles=["therapist"]).staff
    assert second.reference != first.reference
    assert name_key(second.username) == "m"
    assert not in_use(second).exists(), "nobody begins with a factor that somebody else made"
