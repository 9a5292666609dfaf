"""Every error is a problem (RFC 9457): media type, status, title, and a sentence that says what to do."""

from typing import Any

import jsonschema
import pytest
from rest_framework.test import APIClient

from tests.api.conftest import Caller
from tests.makers import a_lead, a_person, a_therapist

# After RFC 9457 §3: status is a number of three digits, type and instance are URI references, the rest is text.
PROBLEM = {
    "type": "object",
    "required": ["type", "title", "status", "detail", "code"],
    "properties": {
        "type": {"type": "string", "format": "uri-reference"},
        "title": {"type": "string", "minLength": 1},
        "status": {"type": "integer", "minimum": 100, "maximum": 599},
        "detail": {"type": "string", "minLength": 10},
        "code": {"type": "string", "pattern": "^[a-z_]+$"},
    },
}


def as_problem(response: Any, status: int) -> dict[str, Any]:
    """The problem of an answer, after a look at its form."""
    assert response["Content-Type"].startswith("application/problem+json"), response["Content-Type"]
    said: dict[str, Any] = response.json()
    jsonschema.validate(said, PROBLEM)
    assert (response.status_code, said["status"]) == (status, status)
    return said


def test_a_stranger_is_told_to_sign_in(stranger: APIClient) -> None:
    """Without a token: 401, not 403."""
    assert as_problem(stranger.get("/api/v1/referrals/"), 401)["code"] == "not_authenticated"


def test_an_address_that_does_not_exist(stranger: APIClient) -> None:
    """A 404 of the address table is a problem too."""
    assert as_problem(stranger.get("/api/v1/nowhere/"), 404)["code"] == "not_found"


def test_a_role_without_the_right_is_refused(calling: Caller) -> None:
    """A therapist may not take referrals."""
    sent = {"site_id": "6f3cdd39-0000-4000-8000-000000000000", "details": {}}
    assert calling(a_therapist()).post("/api/v1/referrals/", sent).status_code in (400, 403)


def test_a_person_outside_ones_caseload_is_not_found(calling: Caller) -> None:
    """Nobody learns from the answer that there is such a person."""
    person = a_person()
    assert as_problem(calling(a_therapist()).get(f"/api/v1/people/{person.pk}/"), 404)["code"] == "not_found"


def test_fields_at_fault_are_named(calling: Caller) -> None:
    """Each with its place in what was sent."""
    said = as_problem(calling(a_lead()).post("/api/v1/referrals/", {"site_id": "here"}), 400)
    assert {error["field"] for error in said["errors"]} >= {"site_id", "details"}


def test_broken_json_is_a_sentence(calling: Caller) -> None:
    """Not a fault."""
    answer = calling(a_lead()).generic("POST", "/api/v1/referrals/", "{broken", content_type="application/json")
    assert as_problem(answer, 400)["code"] == "parse_error"


def test_another_media_type_is_refused(calling: Caller) -> None:
    """The API takes JSON."""
    answer = calling(a_lead()).generic("POST", "/api/v1/referrals/", "a=1", content_type="text/csv")
    assert as_problem(answer, 415)["code"] == "unsupported_media_type"


def test_a_change_says_on_what_it_was_based(calling: Caller) -> None:
    """Without If-Match: 428 (RFC 6585)."""
    person = a_person()
    assert as_problem(calling(a_lead()).put(f"/api/v1/people/{person.pk}/", {}), 428)["code"] == "precondition_required"


def test_a_change_of_an_older_state_is_refused(calling: Caller) -> None:
    """With another version in If-Match: 412 and what changed (RFC 9110)."""
    person, lead = a_person(), a_lead()
    caller = calling(lead)
    first = caller.get(f"/api/v1/people/{person.pk}/")
    details = {**first.json()["details"], "phone": "01 23"}
    assert caller.put(f"/api/v1/people/{person.pk}/", details, HTTP_IF_MATCH=first["ETag"]).status_code == 200
    again = caller.put(f"/api/v1/people/{person.pk}/", {**details, "phone": "9"}, HTTP_IF_MATCH=first["ETag"])
    said = as_problem(again, 412)
    assert (said["code"], lead.name in said["reasons"][0]) == ("stale", True)


def test_what_is_known_already_is_not_sent_again(calling: Caller) -> None:
    """If-None-Match with the ETag: 304 and no content (RFC 9110)."""
    person, caller = a_person(), calling(a_lead())
    tag = caller.get(f"/api/v1/people/{person.pk}/")["ETag"]
    answer = caller.get(f"/api/v1/people/{person.pk}/", HTTP_IF_NONE_MATCH=tag)
    assert (answer.status_code, answer.content) == (304, b"")


def test_a_fault_gives_away_nothing(calling: Caller, monkeypatch: pytest.MonkeyPatch) -> None:
    """A programme that breaks answers 500 without its own words."""

    def breaks(*args: object, **kwargs: object) -> None:
        raise RuntimeError("the secret inside")

    monkeypatch.setattr("api.people.person_file", breaks)
    answer = calling(a_lead()).get(f"/api/v1/people/{a_person().pk}/")
    assert "secret" not in as_problem(answer, 500)["detail"]
