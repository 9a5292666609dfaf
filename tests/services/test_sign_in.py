"""Signing in under fire, and what every deed on the staff list leaves in the trail."""

from __future__ import annotations

from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from datetime import timedelta
from typing import Any
from uuid import uuid4

import pytest
from django.contrib.sessions.models import Session
from django.db import connection, transaction
from knox.models import AuthToken

from checklists.leaving.services import end_staff
from clinic.errors import Conflict, Denied, NotFound, Refusal
from clinic.models import SignInAttempt, Staff, TrailRow
from clinic.staff import attempts, services
from clinic.staff.attempts import LockedOut
from clinic.staff.ended import forget_ended
from clinic.staff.reauthenticate import confirm
from clinic.staff.sign_in import sign_in
from tests.makers import PASSWORD, a_lead, a_proof, a_site, a_therapist, now

TODAY = now().date()
LATER = TODAY + timedelta(days=300)


def guessed(username: str) -> str:
    """One guess on a connection of its own; the code of the refusal."""
    try:
        sign_in(username=username, password="wrong, and long enough")
    except Refusal as refusal:
        return refusal.code
    finally:
        connection.close()
    return "in"


@pytest.mark.django_db(transaction=True)
def test_guesses_at_the_same_moment_all_count() -> None:
    staff = a_therapist()
    with ThreadPoolExecutor(12) as pool:
        codes = sorted(pool.map(guessed, [staff.username] * 12))
    assert codes == ["cannot_sign_in"] * attempts.FROM_HERE + ["locked_out"] * (12 - attempts.FROM_HERE)
    with pytest.raises(LockedOut):
        sign_in(username=staff.username, password=PASSWORD)


def were_made(count: int, *, name: str, address: str, minutes_ago: float) -> None:
    """Guesses of before; `name` may count them with {n}."""
    at = now() - timedelta(minutes=minutes_ago)
    names = [attempts.key_of(name.format(n=n)) for n in range(count)]
    SignInAttempt.objects.bulk_create(SignInAttempt(key=key, address=address, at=at) for key in names)


@pytest.mark.django_db(transaction=True)
def test_guesses_over_many_names_lock_the_place_that_they_come_from_and_no_other() -> None:
    were_made(attempts.ANY_NAME, name="name {n}", address="192.0.2.7", minutes_ago=10)
    until = attempts.begin("one more", "192.0.2.7", at=now())
    assert until == SignInAttempt.objects.latest("at").at + attempts.WINDOW
    assert isinstance(attempts.begin("one more", "192.0.2.8", at=now()), SignInAttempt)


@pytest.mark.django_db(transaction=True)
def test_of_two_limits_that_are_reached_the_one_that_opens_later_holds() -> None:
    were_made(attempts.FROM_ANYWHERE - attempts.FROM_HERE, name="one", address="192.0.2.7", minutes_ago=14)
    were_made(attempts.FROM_HERE, name="one", address="192.0.2.8", minutes_ago=1)
    assert attempts.begin("one", "192.0.2.8", at=now()) == SignInAttempt.objects.latest("at").at + attempts.WINDOW


@pytest.mark.django_db(transaction=True)
def test_a_wrong_password_stays_counted_whatever_becomes_of_the_deed() -> None:
    """Inside a transaction the count would be undone with the deed: it refuses to run there."""
    staff = a_therapist()
    with pytest.raises(RuntimeError, match="durable"), transaction.atomic():
        confirm(staff, a_proof(staff))
    assert not SignInAttempt.objects.exists()


@pytest.mark.django_db(transaction=True)
def test_two_leads_leaving_at_once_leave_one_behind() -> None:
    leads = [a_lead(), a_lead()]

    def leave(lead: Staff) -> str:
        try:
            end_staff(actor=lead, staff_id=lead.pk, reason="Leaving.")
        except Conflict as refusal:
            return refusal.code
        finally:
            connection.close()
        return "left"

    with ThreadPoolExecutor(2) as pool:
        assert sorted(pool.map(leave, leads)) == ["conflict", "left"]


Deed = Callable[[Staff, Staff], Any]
DEEDS: dict[str, Deed] = {
    "site.added": lambda lead, who: services.add_site(actor=lead, name="Quay Street", time_zone="Europe/Oslo"),
    "staff.added": lambda lead, who: services.add_staff(
        actor=lead, name="N", username="n", email="", site_id=a_site().pk, roles=["assistant"]
    ),
    "staff.edited": lambda lead, who: services.edit_staff(
        actor=lead, staff_id=who.pk, version=1, name="N", email="", site_id=who.site_id, minutes_per_week=5
    ),
    "staff.ended": lambda lead, who: end_staff(actor=lead, staff_id=who.pk, reason="Moved."),
    "password.given": lambda lead, who: services.give_password(actor=lead, staff_id=who.pk),
    "role.granted": lambda lead, who: services.grant_role(
        actor=lead, staff_id=who.pk, role="assistant", starts_on=TODAY
    ),
    "role.ended": lambda lead, who: services.end_role(actor=lead, term_id=who.role_terms.get().pk, last_day=TODAY),
    "registration.added": lambda lead, who: services.add_registration(
        actor=lead, staff_id=who.pk, number="P 1", starts_on=TODAY, expires_on=LATER
    ),
    "authorisation.granted": lambda lead, who: services.authorise(
        actor=lead, staff_id=who.pk, feature="lock", starts_on=TODAY, expires_on=LATER
    ),
    "authorisation.withdrawn": lambda lead, who: services.withdraw_authorisation(
        actor=lead,
        authorisation_id=who.authorisations.all()[0].pk,
        reason="Refresher due.",
    ),
}


@pytest.mark.django_db
@pytest.mark.parametrize("verb", DEEDS)
def test_every_deed_on_the_staff_list_leaves_one_row_with_who_and_from_where(verb: str) -> None:
    lead, therapist = a_lead(), a_therapist()
    DEEDS[verb](lead, therapist)
    row = TrailRow.objects.exclude(verb="factor.removed").get()  # goes with the account, and is a row of its own
    assert (row.verb, row.actor, row.origin) == (verb, lead, "command")


@pytest.mark.django_db
@pytest.mark.parametrize("verb", DEEDS)
def test_nobody_but_a_lead_does_it_and_nothing_is_left_behind(verb: str) -> None:
    stranger, therapist = a_therapist(), a_therapist()
    before = Staff.objects.count(), list(therapist.role_terms.values_list("period"))
    with pytest.raises((Denied, NotFound)):
        DEEDS[verb](stranger, therapist)
    assert (Staff.objects.count(), list(therapist.role_terms.values_list("period"))) == before
    assert not TrailRow.objects.exists()


@pytest.mark.django_db
def test_a_member_of_staff_who_is_not_there_is_not_found() -> None:
    with pytest.raises(NotFound):
        services.give_password(actor=a_lead(), staff_id=uuid4())


@pytest.mark.django_db
def test_what_has_run_out_at_the_door_is_cleared_away_and_the_rest_stays() -> None:
    """An ended session, an expired token and an old wrong password go; those in force stay."""
    staff, at = a_therapist(), now()
    for name, expires in (("ended", at - timedelta(seconds=1)), ("open", at + timedelta(hours=1))):
        Session.objects.create(session_key=name, session_data="", expire_date=expires)
    AuthToken.objects.create(user=staff, expiry=timedelta(seconds=-1))
    AuthToken.objects.create(user=staff, expiry=timedelta(hours=1))
    for when in (at - attempts.WINDOW - timedelta(seconds=1), at):
        SignInAttempt.objects.create(key="k", address="a", at=when)
    assert forget_ended(at) == 3
    assert list(Session.objects.values_list("session_key", flat=True)) == ["open"]
    assert (AuthToken.objects.count(), SignInAttempt.objects.count()) == (1, 1)
    assert forget_ended(at) == 0
