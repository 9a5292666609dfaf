"""The accounts looked through (21 CFR 11.300(b)): what nobody uses, what ends, what is missing; and that it is done."""

from __future__ import annotations

from datetime import timedelta

import pytest

from clinic import clock
from clinic.access import Assurance
from clinic.errors import Denied, Invalid
from clinic.models import AccountReview, Pin, Registration, Staff, StaffSession, Tablet, TrailRow
from clinic.staff import sessions
from clinic.staff.ended import forget_ended
from clinic.staff.review.selectors import ENDS_SOON, UNUSED, account_review
from clinic.staff.review.services import note_review
from clinic.staff.roles import Role
from tests.makers import a_lead, a_pin, a_tablet, a_therapist, an_assistant, now

pytestmark = pytest.mark.django_db
TODAY = now().date()


def used(staff: Staff, days_ago: int = 0) -> Staff:
    sessions.begin(staff, Assurance.PASSWORD, at=now() - timedelta(days=days_ago))
    return staff


def findings(lead: Staff, staff: Staff) -> tuple[str, ...]:
    accounts = account_review(lead, at=clock.now()).accounts
    return next((one.findings for one in accounts if one.id == staff.pk), ())


@pytest.mark.parametrize(("days", "expected"), [(UNUSED.days, ()), (UNUSED.days + 1, ("not used for 91 days",))])
def test_an_account_that_nobody_used_for_long_appears(days: int, expected: tuple[str, ...]) -> None:
    lead, staff = a_lead(), used(an_assistant(), days)
    assert findings(lead, staff) == expected


def test_one_that_was_never_used_appears_and_a_new_one_does_not() -> None:
    lead, old, new = a_lead(), an_assistant(), an_assistant()
    Staff.objects.filter(pk=new.pk).update(joined_at=now() - timedelta(days=3))
    assert findings(lead, old) == ("never used",)
    assert findings(lead, new) == ()


def test_a_role_that_ends_soon_appears_unless_it_is_taken_up_again() -> None:
    lead, staff = a_lead(), used(an_assistant())
    end = TODAY + ENDS_SOON
    staff.role_terms.update(period=(TODAY - timedelta(days=90), end))
    assert findings(lead, staff)[0].startswith("assistant ends on")
    staff.role_terms.create(role=Role.ASSISTANT, period=(end, None))
    assert findings(lead, staff) == ()


def test_one_that_ends_a_day_later_than_soon_does_not_appear_nor_is_one_held_that_begins_later() -> None:
    lead, staff = a_lead(), used(an_assistant())
    staff.role_terms.update(period=(TODAY, TODAY + ENDS_SOON + timedelta(days=1)))
    assert findings(lead, staff) == ()
    staff.role_terms.update(period=(TODAY + timedelta(days=1), TODAY + timedelta(days=9)))
    assert findings(lead, staff) == ("no role today",)


def test_papers_and_factors_that_a_signer_lacks_appear() -> None:
    lead, staff = a_lead(), used(a_therapist())
    staff.factors.update(removed_at=now(), secret=None, public_key=None, credential_id=None)
    Registration.objects.filter(staff=staff).update(expires_on=TODAY + timedelta(days=5))
    Staff.objects.filter(pk=staff.pk).update(identity_checked_at=None)
    said = " / ".join(findings(lead, staff))
    assert "registration ends soon" in said
    assert "no second factor" in said
    assert "identity not checked" in said


def test_a_locked_pin_and_a_tablet_that_nobody_has_seen_appear() -> None:
    lead, staff, tablet = a_lead(), used(a_pin(an_assistant())), a_tablet()
    Pin.objects.filter(staff=staff).update(locked_at=now())
    Tablet.objects.filter(pk=tablet.pk).update(seen_at=now() - timedelta(days=30))
    found = account_review(lead, at=clock.now())
    assert findings(lead, staff) == ("PIN locked after wrong tries",)
    assert [row.id for row in found.tablets] == [tablet.pk]


def test_who_has_left_does_not_appear() -> None:
    assert findings(a_lead(), an_assistant(is_active=False)) == ()


def test_that_it_was_done_is_kept_with_name_day_and_words() -> None:
    lead = a_lead()
    assert account_review(lead, at=clock.now()).overdue
    with pytest.raises(Invalid):
        note_review(actor=lead, note=" ")
    note_review(actor=lead, note="Two accounts closed.")
    found = account_review(lead, at=clock.now())
    assert not found.overdue
    assert found.last is not None
    assert (found.last.by, found.last.note) == (lead, "Two accounts closed.")
    assert TrailRow.objects.filter(actor=lead, verb="accounts.reviewed").count() == 1
    AccountReview.objects.update(at=now() - timedelta(days=200))
    assert account_review(lead, at=clock.now()).overdue


def test_only_a_lead_looks_through_the_accounts() -> None:
    with pytest.raises(Denied):
        note_review(actor=a_therapist(), note="all well")
    with pytest.raises(Denied):
        account_review(a_therapist(), at=clock.now())


def test_sessions_that_a_limit_ended_are_closed_and_old_ones_go() -> None:
    staff = an_assistant()
    for days in (0, 2, 500):
        used(staff, days)
    forget_ended(now())
    assert StaffSession.objects.filter(ended_at__isnull=True).count() == 1
    StaffSession.objects.filter(ended_at__isnull=False).update(ended_at=now() - timedelta(days=401))
    forget_ended(now())
    assert StaffSession.objects.count() == 1
