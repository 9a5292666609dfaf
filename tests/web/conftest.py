"""Browsers of the test: a stranger (`client`), and whoever has come in through the door. Runa, and Ines who is hers."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from datetime import UTC, datetime, time
from typing import Any

import pytest
from django.test import Client

from caseload.models import Episode
from clinic import clock
from clinic.staff.models import Staff
from tests.makers import a_person, a_therapist, an_episode, in_through_the_door


@pytest.fixture
def enter() -> Callable[..., Client]:
    """A browser of their own for each person, signed in through the door as anybody would."""

    def come_in(staff: Staff, browser: Client | None = None) -> Client:
        browser = browser or Client()
        answer = in_through_the_door(browser, staff)
        assert answer.status_code == 302, answer.content.decode()
        return browser

    return come_in


@pytest.fixture
def at_noon(settings: Any) -> Iterator[None]:
    """The clock stands at noon of today: an hour ago is today, too, at whichever hour the tests run."""
    settings.CLOCK_CAN_BE_SET = True
    with clock.at_instant(datetime.combine(clock.now().date(), time(12), tzinfo=UTC)):
        yield


@pytest.fixture
def runa() -> Staff:
    """A therapist."""
    return a_therapist(name="Runa Achterling")


@pytest.fixture
def ines(runa: Staff) -> Episode:
    """Somebody of theirs."""
    return an_episode(assigned_to=runa, person=a_person(given_name="Ines", family_name="Vartholm"))
