"""Browsers of the test: a stranger, and whoever is signed in."""

from collections.abc import Callable

import pytest
from django.test import Client

from clinic.staff.models import Staff
from tests.makers import PASSWORD


def sign_in(client: Client, staff: Staff) -> Client:
    """Go through the door as anybody would."""
    answer = client.post("/sign-in/", {"username": staff.username, "password": PASSWORD})
    assert answer.status_code == 302, answer.content.decode()
    return client


@pytest.fixture
def enter() -> Callable[[Staff], Client]:
    """A browser of their own for each of several people."""
    return lambda staff: sign_in(Client(), staff)
