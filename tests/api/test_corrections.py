"""Corrections by the API: the same services as the pages."""

from __future__ import annotations

from typing import Any
from uuid import uuid4

import pytest

from checklists.models import Entry
from clinic.audit.models import TrailRow
from tests.api.conftest import Caller
from tests.makers import a_lead, a_records_officer, a_therapist, ago, an_attempt, an_episode, recorded

pytestmark = pytest.mark.django_db


def a_record() -> Any:
    therapist = a_therapist()
    episode = an_episode(assigned_to=therapist)
    fact = an_attempt(at=ago(hours=1))
    recorded(therapist, episode, fact)
    return therapist, f"/api/v1/episodes/{episode.pk}/corrections/", fact["id"]


def test_asked_listed_and_answered(calling: Caller) -> None:
    therapist, address, fact = a_record()
    said = {"text": "Not I.", "asked_by": "the person", "target": fact}
    written = calling(therapist).post(address, said)
    assert written.status_code == 201, written.content
    (row,) = calling(a_records_officer()).get(address).json()["items"]
    assert (row["entry"], row["target"], row["open"], row["answer"]) == (written.json()["entry"], fact, True, "")
    lead = calling(a_lead())
    answered = lead.post(f"{address}{row['entry']}/answer/", {"answer": "agreed", "strike": True})
    assert answered.status_code == 201, answered.content
    (row,) = lead.get(address).json()["items"]
    assert (row["open"], row["answer"], len(row["struck"])) == (False, "agreed", 1)
    assert TrailRow.objects.filter(verb="person.opened", detail__page="api: corrections").count() == 2


def test_sent_twice_under_one_id_it_is_one(calling: Caller) -> None:
    therapist, address, _ = a_record()
    said = {"text": "Not I.", "asked_by": "the person", "entry_id": str(uuid4())}
    caller = calling(therapist)
    assert [caller.post(address, said).json()["entry"] for _ in range(2)] == [said["entry_id"]] * 2
    assert Entry.objects.filter(kind="correction_requested").count() == 1


@pytest.mark.parametrize(
    ("said", "status"),
    [
        ({"text": "x"}, 400),
        ({"text": " ", "asked_by": "y"}, 400),
        ({"text": "x", "asked_by": "y", "target": "that one"}, 400),
        ({"text": "x", "asked_by": "y", "target": str(uuid4())}, 422),
    ],
)
def test_what_makes_no_sense_is_refused(calling: Caller, said: Any, status: Any) -> None:
    therapist, address, _ = a_record()
    assert calling(therapist).post(address, said).status_code == status
    assert not Entry.objects.filter(kind="correction_requested").exists()


def test_a_stranger_learns_nothing_and_a_therapist_answers_nothing(calling: Caller) -> None:
    therapist, address, fact = a_record()
    stranger = calling(a_therapist())
    assert stranger.get(address).status_code == 404
    assert stranger.post(address, {"text": "x", "asked_by": "y"}).status_code == 404
    said = calling(therapist).post(address, {"text": "Not I.", "asked_by": "the person", "target": fact}).json()
    answer = calling(therapist).post(f"{address}{said['entry']}/answer/", {"answer": "declined", "reason": "No."})
    assert answer.status_code == 403
    assert calling(a_lead()).post(f"{address}{uuid4()}/answer/", {"answer": "agreed", "reason": "x"}).status_code == 404
