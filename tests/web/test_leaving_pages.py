"""The lead's pages of leaving, moving and looking through: what they say, and that sending them does it."""

from __future__ import annotations

from collections.abc import Callable
from datetime import timedelta

import pytest
from django.test import Client
from django.urls import reverse
from rest_framework.test import APIClient

from caseload.models import Assignment, Episode
from clinic import clock
from clinic.models import AccountReview, SiteMove, Staff
from clinic.staff.roles import Role
from tests.makers import a_lead, a_person, a_pin, a_site, a_therapist, a_token, an_assistant, an_episode, now

pytestmark = pytest.mark.django_db
Enter = Callable[..., Client]
SOON = (now() + timedelta(days=9)).date()


def text(answer: object) -> str:
    return answer.content.decode()  # type: ignore[attr-defined, no-any-return]  # an answer of the test client


def carrier(episode: Episode) -> Staff:
    return Assignment.objects.get(episode=episode, period__contains=clock.now()).staff


def test_the_ending_page_names_who_is_in_hand_and_refuses_to_leave_them_unsaid(enter: Enter) -> None:
    gone, lead = a_pin(a_therapist(name="Runa Achterling")), enter(a_lead())
    episode = an_episode(assigned_to=gone, person=a_person(given_name="Ines", family_name="Vartholm"))
    address = reverse("end_staff", args=[gone.pk])
    said = text(lead.get(address))
    assert "Ines Vartholm" in said
    assert "the PIN for the gym" in said
    refused = lead.post(address, {"reason": "moved"})
    assert refused.status_code == 409
    assert "Ines Vartholm: nobody is named" in text(refused)
    heir = a_therapist()
    done = lead.post(address, {"reason": "moved", f"each-{episode.pk}": str(heir.pk)})
    assert done["Location"] == reverse("staff_member", args=[gone.pk])
    assert carrier(episode) == heir
    assert not Staff.objects.get(pk=gone.pk).is_active


def test_the_closing_page_says_what_to_do_for_somebody_who_leaves_later(enter: Enter) -> None:
    gone, lead = a_therapist(), enter(a_lead())
    said, member = text(lead.get(reverse("end_staff", args=[gone.pk]))), reverse("staff_member", args=[gone.pk])
    later = f'Do they leave later? Give the last day under <a href="{member}#roles">Roles</a>; close the account on'
    assert later in said
    assert 'id="roles"' in text(lead.get(member))


def test_whoever_is_left_to_nobody_stands_on_the_caseload_page(enter: Enter) -> None:
    gone, lead = a_therapist(), enter(a_lead())
    an_episode(assigned_to=gone, person=a_person(given_name="Ines", family_name="Vartholm"))
    lead.post(reverse("end_staff", args=[gone.pk]), {"reason": "moved", "nobody": "on"})
    assert "Ines Vartholm" in text(lead.get(reverse("caseload")))


def test_somebody_with_nobody_in_hand_is_ended_with_a_reason_alone(enter: Enter) -> None:
    gone, lead = an_assistant(), enter(a_lead())
    address = reverse("end_staff", args=[gone.pk])
    assert "Nobody is in their hands" in text(lead.get(address))
    assert lead.post(address, {"reason": "moved"}).status_code == 302


def test_nobody_but_a_lead_opens_these_pages(enter: Enter) -> None:
    therapist, other = a_therapist(), an_assistant()
    browser = enter(therapist)
    for name, args in (("end_staff", [other.pk]), ("move_staff", [other.pk]), ("account_review", [])):
        assert browser.get(reverse(name, args=args)).status_code in (403, 404), name


def test_by_the_api_the_same_is_refused_and_done() -> None:
    gone, heir, lead = a_therapist(), a_therapist(), a_lead()
    episode = an_episode(assigned_to=gone)
    caller = APIClient()
    caller.credentials(HTTP_AUTHORIZATION=f"Token {a_token(lead)}")
    address = f"/api/v1/staff/{gone.pk}/end/"
    refused = caller.post(address, {"reason": "moved"}, format="json")
    assert (refused.status_code, refused.json()["code"]) == (409, "still_in_hand")
    each = [{"episode_id": str(episode.pk), "to": str(heir.pk)}]
    assert caller.post(address, {"reason": "moved", "each": each}, format="json").status_code == 200
    assert carrier(episode) == heir


def test_a_move_shows_what_no_longer_reaches_them_before_it_is_made(enter: Enter) -> None:
    staff, lead = a_therapist(), enter(a_lead())
    an_episode(assigned_to=staff, person=a_person(given_name="Ines", family_name="Vartholm"))
    address = reverse("move_staff", args=[staff.pk])
    wanted = {"on_day": SOON.isoformat(), "site_id": str(staff.site_id), "roles": ["assistant"], "seen": ""}
    shown = lead.post(address, wanted)
    assert shown.status_code == 409
    assert "sign off" in text(shown)
    assert "Ines Vartholm" in text(shown)
    assert staff.roles_on(SOON) == {Role.THERAPIST}
    done = lead.post(address, wanted | {"seen": shown.context["losses"].digest})
    assert done.status_code == 302
    assert Staff.objects.get(pk=staff.pk).roles_on(SOON) == {Role.ASSISTANT}


def test_a_move_that_takes_nothing_is_made_at_once_and_stands_on_their_page(enter: Enter) -> None:
    staff, lead, quay = a_therapist(), enter(a_lead()), a_site("Quay Street")
    wanted = {"on_day": SOON.isoformat(), "site_id": str(quay.pk), "roles": ["therapist"], "seen": ""}
    assert lead.post(reverse("move_staff", args=[staff.pk]), wanted).status_code == 302
    assert SiteMove.objects.get().site == quay
    assert "moves to Quay Street" in text(lead.get(reverse("staff_member", args=[staff.pk])))


def test_the_account_review_is_read_and_noted(enter: Enter) -> None:
    an_assistant(name="Fenna Oldcombe")
    lead = enter(a_lead())
    said = text(lead.get(reverse("account_review")))
    assert "Fenna Oldcombe" in said
    assert "never used" in said
    assert "defaults" in said
    assert lead.post(reverse("account_review"), {"note": "Fenna is asked."}).status_code == 302
    assert AccountReview.objects.get().note == "Fenna is asked."
    assert "Fenna is asked." in text(lead.get(reverse("account_review")))
