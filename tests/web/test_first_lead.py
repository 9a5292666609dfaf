"""`manage.py first_lead`: the first account of a new clinic, and no second one."""

from __future__ import annotations

import io

import pytest
from django.core.management import CommandError, call_command
from django.test import Client

from clinic.models import Site, Staff, TrailRow
from clinic.staff.roles import Role
from tests.makers import a_lead, now

pytestmark = pytest.mark.django_db
SAID = {"name": "Marit Sandhollow", "username": "marit", "email": "", "site": "Alder Reach", "time_zone": "Europe/Oslo"}


GOOD = "seven brass rails hum"


def first_lead(monkeypatch: pytest.MonkeyPatch, password: str = GOOD, **changed: str) -> str:
    monkeypatch.setattr("sys.stdin", io.StringIO(password + "\n"))
    out = io.StringIO()
    call_command("first_lead", password_from_stdin=True, stdout=out, **{**SAID, **changed})
    return out.getvalue()


def test_makes_a_lead_and_a_site_who_can_sign_in(monkeypatch: pytest.MonkeyPatch, client: Client) -> None:
    assert "can sign in as marit" in first_lead(monkeypatch)
    lead = Staff.objects.get()
    assert lead.roles_on(now().date()) == {Role.CLINIC_LEAD}
    assert Site.objects.get().time_zone == "Europe/Oslo"
    assert client.post("/sign-in/", {"username": "marit", "password": "seven brass rails hum"}).status_code == 302
    assert TrailRow.objects.get(verb="staff.first_lead_made").origin == "command"


def test_refuses_when_there_is_a_lead(monkeypatch: pytest.MonkeyPatch) -> None:
    a_lead()
    with pytest.raises(CommandError, match="There is a clinic lead already"):
        first_lead(monkeypatch)


@pytest.mark.parametrize(
    ("changed", "sentence"),
    [
        ({"password": "short"}, "too short"),
        ({"time_zone": "Alder/Reach"}, "is not a time zone"),
        ({"name": ""}, "name"),
        ({"username": ""}, "username"),
    ],
)
def test_what_does_not_fit_is_said_and_nothing_is_made(
    monkeypatch: pytest.MonkeyPatch, changed: dict[str, str], sentence: str
) -> None:
    with pytest.raises(CommandError, match=sentence):
        first_lead(monkeypatch, **changed)
    assert not Staff.objects.exists()
    assert not Site.objects.exists()
