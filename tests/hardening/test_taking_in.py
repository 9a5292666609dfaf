"""What is taken in: fields nobody offered change nothing, a deed is whole or not at all, a session's key is new."""

from __future__ import annotations

import ast
import math
import re
from collections.abc import Callable
from typing import Any

import pytest
from django.contrib.sessions.backends.db import SessionStore
from django.test import Client
from rest_framework.test import APIClient

from caseload.models import Person, Referral
from caseload.person.details import PersonDetails
from caseload.person.services import add_person
from clinic.audit import trail
from clinic.models import OutboxRow, Staff, TrailRow
from clinic.run.places import ROOT
from tests.api.conftest import Caller, calling
from tests.makers import a_lead, a_site, a_therapist, an_episode, now

__all__ = ["calling"]
Enter = Callable[..., Client]
PUSHED = {
    "id": "00000000-0000-4000-8000-000000000001",
    "pk": 1,
    "role": "clinic_lead",
    "roles": ["clinic_lead"],
    "is_active": False,
    "is_superuser": True,
    "password": "x",
    "site": "elsewhere",
    "number": "AR-0000",
    "version": 99,
    "created_at": "2001-01-01T00:00:00Z",
    "erased_at": "2001-01-01T00:00:00Z",
    "__proto__": {"admin": True},
    "actor": "somebody",
    "by": "S-1",
}


@pytest.mark.django_db
def test_fields_that_were_not_offered_change_nothing(calling: Caller) -> None:
    """ASVS V15.3.3 (mass assignment): they are dropped, whatever they are called."""
    lead = a_lead()
    episode = an_episode()
    person: Person = episode.person
    caller: APIClient = calling(lead)
    address = f"/api/v1/people/{person.pk}/"
    seen = caller.get(address)
    before = {**Person.objects.filter(pk=person.pk).values()[0]}
    details = dict(seen.json()["details"])
    sent = {**PUSHED, **details, "called": "Rob"}
    answer = caller.put(address, sent, headers={"If-Match": seen.headers["ETag"]})
    assert answer.status_code == 200, answer.content
    after = {**Person.objects.filter(pk=person.pk).values()[0]}
    changed = {key for key in after if after[key] != before[key]}
    assert "called" in changed
    assert changed <= {"called", "version", "changed_at", "changed_by_id"}
    own = Staff.objects.get(pk=lead.pk)
    assert (own.is_active, own.is_superuser if hasattr(own, "is_superuser") else False) == (True, False)


@pytest.mark.django_db
def test_a_form_takes_its_own_fields_alone(enter: Enter) -> None:
    therapist = a_therapist()
    before: dict[str, Any] = {**Staff.objects.filter(pk=therapist.pk).values()[0]}
    enter(therapist).post("/password/", {**PUSHED, "roles": "clinic_lead"})
    after: dict[str, Any] = {**Staff.objects.filter(pk=therapist.pk).values()[0]}
    assert {key for key in after if after[key] != before[key]} <= {"last_login"}


@pytest.mark.django_db(transaction=True)
def test_a_deed_that_fails_at_its_end_has_not_begun(monkeypatch: pytest.MonkeyPatch) -> None:
    """ASVS V2.3.3, V16.5.3: the row of the trail cannot be written, so nothing was done and no news goes out."""
    lead, site = a_lead(), a_site()

    def fails(*args: Any, **kwargs: Any) -> None:
        raise RuntimeError("the trail cannot be written")

    people, news, rows = Person.objects.count(), OutboxRow.objects.count(), TrailRow.objects.count()
    monkeypatch.setattr(trail, "record", fails)
    born = now().date().replace(year=1950)
    details = PersonDetails(given_name="Ottoline", family_name="Prydfold", born_on=born, second_identifier="Q1")
    with pytest.raises(RuntimeError):
        add_person(actor=lead, site_id=site.pk, details=details)
    assert (Person.objects.count(), OutboxRow.objects.count(), TrailRow.objects.count()) == (people, news, rows)
    assert Referral.objects.count() == 0


def test_every_service_is_one_transaction_of_its_own() -> None:
    """What `services.py` offers with an actor either reads, or is whole: `transaction.atomic(durable=True)`."""
    loose = []
    for path in sorted(ROOT.glob("c*/**/services.py")):
        for node in ast.parse(path.read_text()).body:
            if not isinstance(node, ast.FunctionDef) or node.name.startswith("_"):
                continue
            writes = any(isinstance(part, ast.Call) and _writes(part) for part in ast.walk(node))
            whole = any("atomic" in ast.unparse(mark) for mark in node.decorator_list) or "atomic(" in ast.unparse(node)
            if writes and not whole:
                loose.append(f"{path.relative_to(ROOT)}::{node.name}")
    assert loose == []


def _writes(call: ast.Call) -> bool:
    """A call that writes two things or more by name: news beside the row of the trail."""
    return ast.unparse(call.func) in ("publish", "post.publish")


@pytest.mark.django_db
def test_the_key_of_a_session_cannot_be_guessed() -> None:
    """ASVS V7.2.2, V7.2.3: at least 128 bits from the machine's own source, another each time."""
    keys = {SessionStore()._get_new_session_key() for _ in range(300)}  # type: ignore[attr-defined]  # private in the stubs
    assert len(keys) == 300
    (length,) = {len(key) for key in keys}
    assert length * math.log2(len(set("".join(keys)))) >= 128


@pytest.mark.django_db
def test_a_key_that_somebody_brings_along_is_never_taken_over(enter: Enter) -> None:
    """ASVS V7.2.1, V7.2.4: the server makes it."""
    brought = "x" * 32
    browser = Client()
    browser.cookies["sessionid"] = brought
    enter(a_lead(), browser)
    assert browser.cookies["sessionid"].value != brought


@pytest.mark.django_db
def test_every_page_of_somebody_has_the_way_out(enter: Enter) -> None:
    """ASVS V7.4.4"""
    for address in ("/password/", "/staff/", "/alerts/", "/caseload/"):
        page = enter(a_lead()).get(address).content.decode()
        assert 'action="/sign-out/"' in page, address


@pytest.mark.django_db
def test_a_parameter_given_twice_is_one_value(enter: Enter) -> None:
    """ASVS V15.3.7: of a query the last counts, and a body is never mixed with it."""
    browser = enter(a_lead())
    assert browser.get("/alerts/?before=1&before=2").status_code == 200
    answer = browser.post("/password/?new_password=one&old_password=two", {})
    assert answer.status_code in (200, 422)
    page = answer.content.decode()
    assert re.findall(r'<input[^>]+name="(?:old|new)_password"', page)
    assert not re.findall(r'value="(?:one|two)"', page)
