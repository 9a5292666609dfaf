"""Who has left, or holds no role any more, gets nothing by an old token or an old session."""

from __future__ import annotations

import pytest
from django.test import Client
from knox.models import AuthToken

from checklists.leaving.services import end_staff
from clinic.models import Staff
from clinic.staff.services import give_password
from tests.api.conftest import Caller
from tests.makers import PASSWORD, a_lead, a_therapist, ago, an_attempt, an_episode, in_through_the_door

pytestmark = pytest.mark.django_db


def test_the_token_of_who_has_left_is_worth_nothing(calling: Caller) -> None:
    therapist = a_therapist()
    episode = an_episode(assigned_to=therapist)
    caller = calling(therapist)
    assert caller.get(f"/api/v1/episodes/{episode.pk}/").status_code == 200
    end_staff(actor=a_lead(), staff_id=therapist.pk, reason="moved away", nobody=True)
    assert not AuthToken.objects.filter(user=therapist).exists()
    assert caller.get(f"/api/v1/episodes/{episode.pk}/").status_code == 401
    sent = caller.post(f"/api/v1/episodes/{episode.pk}/entries/", {"entries": [an_attempt()]})
    assert sent.status_code == 401


def test_nor_is_one_that_was_made_in_the_same_moment(calling: Caller) -> None:
    therapist = a_therapist()
    caller = calling(therapist)
    Staff.objects.filter(pk=therapist.pk).update(is_active=False)  # the token still stands
    assert caller.get("/api/v1/episodes/").status_code == 401


def test_a_session_ends_with_the_account_and_with_a_new_password() -> None:
    therapist, lead = a_therapist(), a_lead()
    for end in (
        lambda: give_password(actor=lead, staff_id=therapist.pk),
        lambda: end_staff(actor=lead, staff_id=therapist.pk, reason="moved away"),
    ):
        browser = Client()
        Staff.objects.filter(pk=therapist.pk).update(password_given_at=None)
        therapist.refresh_from_db()
        therapist.set_password(PASSWORD)
        therapist.save()
        in_through_the_door(browser, therapist)
        assert browser.get("/people/").status_code == 200
        end()
        assert browser.get("/people/").status_code == 302
        assert browser.get("/api/v1/episodes/").status_code in (401, 403)


def test_a_role_that_ended_yesterday_gives_nothing_today(calling: Caller) -> None:
    therapist = a_therapist()
    episode = an_episode(assigned_to=therapist)
    therapist.role_terms.update(period=(ago(days=900).date(), ago(days=1).date()))
    caller = calling(therapist)
    assert caller.get("/api/v1/episodes/").status_code == 403
    assert caller.get(f"/api/v1/episodes/{episode.pk}/").status_code == 404
    sent = caller.post(f"/api/v1/episodes/{episode.pk}/entries/", {"entries": [an_attempt()]})
    assert [one["outcome"] for one in sent.json()["verdicts"]] == ["refused"]
