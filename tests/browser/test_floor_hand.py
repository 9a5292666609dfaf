"""The Floor in one hand: what every control measures, how it is called, how it looks, in every state and shape of the page."""

from __future__ import annotations

import pytest

from caseload.models import Episode
from clinic.staff.models import Staff
from tests.browser.conftest import Enter
from tests.browser.floor_hands import Hand
from tests.browser.floor_names import faults_of_names
from tests.browser.floor_shapes import measured
from tests.browser.floor_states import states
from tests.makers import a_therapist, an_episode


@pytest.fixture
def therapist() -> Staff:
    return a_therapist(name="Runa Achterling")


@pytest.fixture
def ines(therapist: Staff) -> Episode:
    return an_episode(assigned_to=therapist)


@pytest.fixture
def hand(enter: Enter, therapist: Staff, ines: Episode) -> Hand:
    return Hand(enter(therapist, f"/floor/{ines.pk}/"))


def test_in_every_state_every_control_can_be_hit_and_has_a_name_of_its_own(hand: Hand) -> None:
    """48 pixels or more, nothing over another or beyond the edge, what is tapped often within the thumb's reach; and a name
    that says out of context what it does."""
    found = []
    for state in states(hand):
        found += measured(hand.page, state)
        found += faults_of_names(hand.page, state)
    assert not found, "\n".join(found)
