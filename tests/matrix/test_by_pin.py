"""Every page and every operation by PIN: whatever roles somebody holds, what records opens and nothing else does."""

from __future__ import annotations

from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from clinic.access import PIN_ACTIONS
from clinic.staff.models import Staff
from clinic.staff.roles import Role
from clinic.staff.tablet import secret
from clinic.web import tablet as cookie
from tests.api.test_schema import specification
from tests.makers import PIN, a_pin, a_staff, an_enrolled_tablet, in_through_the_door
from tests.matrix.rules import Kind, rule_of
from tests.matrix.walk import Answer, Door, Walker, doors
from tests.world import a_world

pytestmark = [pytest.mark.django_db, pytest.mark.slow, pytest.mark.timeout(400)]
# What is nobody's or one's own, and open by PIN too: the way out, news, what was typed, one's own sessions to look at.
OPEN_BY_PIN = {
    *("POST /sign-out/", "POST /kept/put-away/", "GET /sessions/", "GET /", "GET /floor/<uuid:episode_id>/taken-over/"),
    *("GET /alerts/tally/", "POST /alerts/news/read/", "GET /api/v1/news/", "POST /api/v1/news/", "GET /watch/now/"),
    *("GET /protocol/", "GET /api/v1/protocols/current/", "GET /api/v1/staff/<uuid:staff_id>/handover/"),
    *("GET /caseload/referrals/known/", "POST /caseload/referrals/known/"),  # a list that reach cuts to nothing
    # what a tablet had sealed, brought by whoever is signed in next; and one's own of it, to be recorded
    *("POST /api/v1/sealed/", "GET /waiting/", "POST /waiting/record/"),
}
# Shut although the action would do: nobody needs it to record.
SHUT_BY_PIN = {"GET /api/v1/episodes/<uuid:episode_id>/corrections/"}


@pytest.fixture
def everybody() -> Staff:
    """Somebody who holds every role there is, and a PIN."""
    return a_pin(a_staff(*Role))


@pytest.fixture
def gym(everybody: Staff) -> Client:
    """They have come in by their PIN on a tablet of the gym."""
    enrolled = an_enrolled_tablet("In the walk")
    browser = Client(raise_request_exception=False)
    browser.cookies[cookie.NAME] = secret.held(enrolled.tablet, enrolled.secret)
    assert browser.post(reverse("enter_pin", args=[everybody.pk]), {"pin": PIN})["Location"] == reverse("today")
    return browser


@pytest.fixture
def walker() -> Walker:
    """Knows what to send, from what somebody is shown who has shown two factors."""
    world: dict[str, Any] = a_world()
    browser = Client(raise_request_exception=False)
    in_through_the_door(browser, a_staff(*Role))
    return Walker(world, specification(), browser)


def as_by_pin(door: Door) -> bool | None:
    """Whether a door opens by PIN; nothing where it is open to strangers."""
    rule = rule_of(door.method, door.route)
    if rule is None or rule.kind is Kind.OPEN:
        return None
    if rule.action is None:
        return str(door) in OPEN_BY_PIN
    return rule.action in PIN_ACTIONS and str(door) not in SHUT_BY_PIN


def opened(door: Door, answer: Answer) -> bool:
    """Whether it was let through. The write path answers for each fact: one that it does not take is no way in."""
    rule = rule_of(door.method, door.route)
    if rule is not None and rule.kind is Kind.FACT and not answer.refused:
        return answer.status < 300 and '"outcome":"refused"' not in answer.said
    return not answer.refused


def test_by_pin_a_door_opens_where_recording_needs_it_and_nowhere_else(
    walker: Walker, gym: Client, everybody: Staff
) -> None:
    wrong = []
    for door in doors():
        expected = as_by_pin(door)
        answer = walker.tries(gym, everybody, door)
        if expected is not None and answer.status != 405 and opened(door, answer) is not expected:
            wrong.append(f"{door}: {answer.status} {'refused' if answer.refused else 'let through'}")
    assert wrong == []
