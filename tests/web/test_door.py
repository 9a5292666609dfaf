"""The door: who comes in, who does not, and what the trail says of it."""

from __future__ import annotations

import pytest
from django.test import Client

from clinic.models import TrailRow
from tests.makers import PASSWORD, a_therapist

pytestmark = pytest.mark.django_db


def test_a_stranger_is_led_to_the_sign_in_page_and_back(client: Client) -> None:
    staff = a_therapist()
    led = client.get("/password/")
    assert led["Location"] == "/sign-in/?next=%2Fpassword%2F"
    let_in = client.post(led["Location"], {"username": staff.username, "password": PASSWORD, "next": "/password/"})
    assert let_in["Location"] == "/password/"
    assert TrailRow.objects.filter(verb="sign_in.succeeded", actor=staff).exists()


def test_sign_in_page_shows(client: Client) -> None:
    assert "Sign-in name" in client.get("/sign-in/").content.decode()
