"""Bad input by the API: a clear sentence, nothing half done; what could be a fact is kept for sender and lead."""

from __future__ import annotations

import json
import uuid
from typing import Any

import pytest
from rest_framework.test import APIClient

from caseload.models import Episode
from checklists.models import Entry, RefusedEntry
from clinic.staff.models import Staff
from tests.api.conftest import Caller
from tests.makers import a_check, a_fall, a_therapist, ago, an_attempt, an_entry, an_episode, now, stamp


@pytest.fixture
def therapist(db: None) -> Staff:
    return a_therapist()


@pytest.fixture
def episode(therapist: Staff) -> Episode:
    return an_episode(assigned_to=therapist)


@pytest.fixture
def caller(calling: Caller, therapist: Staff) -> APIClient:
    return calling(therapist)


def verdicts(caller: APIClient, episode: Episode, *entries: Any) -> list[dict[str, Any]]:
    """Send a batch; one verdict for each."""
    answer = raw(caller, episode, json.dumps({"entries": list(entries)}).encode())
    assert answer.status_code == 200, answer.content
    found: list[dict[str, Any]] = answer.json()["verdicts"]
    return found


def raw(caller: APIClient, episode: Episode, body: bytes) -> Any:
    """Send bytes as they are."""
    address = f"/api/v1/episodes/{episode.pk}/entries/"
    return caller.generic("POST", address, body, content_type="application/json")  # type: ignore[arg-type]  # bytes are what is sent


BAD: list[tuple[str, Any, str]] = [
    ("a wrong time", {"at": "yesterday at nine"}, "at"),
    ("a time without an offset", {"at": "2026-11-25T09:00:00"}, "at"),
    ("a second sixty", {"at": "2026-11-25T09:00:60Z"}, "at"),
    ("an unknown skill", {"skill": "moon_walk"}, "skill"),
    ("an unknown rung", {"support": "trapeze"}, "support"),
    ("an unknown field", {"mood": "good"}, "mood"),
    ("a missing field", {"result": None}, "result"),
    ("a number that is a text", {"measures": {"load_share": "half"}}, "measures"),
    ("a text of 5 MB", {"note": "x" * 5_000_000}, "note"),
    ("a text of 4,001 characters", {"note": "x" * 4_001}, "note"),
    ("a NUL", {"note": "a\x00b"}, "note"),
    ("half a character", {"note": "\ud800"}, "note"),
    ("an integer beyond 2^53", {"seq": 2**53}, "seq"),
    ("a deep nest", {"measures": json.loads("[" * 200 + "]" * 200)}, "measures"),
    ("an id that is none", {"id": "first-of-today"}, "id"),
]


@pytest.mark.parametrize(("change", "field"), [case[1:] for case in BAD], ids=[case[0] for case in BAD])
def test_a_bad_entry_is_refused_by_the_name_of_the_field(
    change: dict[str, Any], field: str, caller: APIClient, episode: Episode
) -> None:
    """Its neighbours are taken, and what was sent is kept with the error."""
    bad = {**an_attempt(at=ago(minutes=3)), **change}
    said = verdicts(caller, episode, a_check(at=ago(minutes=5)), bad, an_attempt(at=ago(minutes=1)))
    assert [one["outcome"] for one in said] == ["accepted", "refused", "accepted"]
    assert said[1]["error"].startswith(f"{field}:"), said[1]["error"]
    assert RefusedEntry.objects.filter(error=said[1]["error"]).count() == 1


def test_an_entry_from_the_future(caller: APIClient, episode: Episode) -> None:
    """More than five minutes ahead is refused; a clock that is a little fast is not."""
    ahead, fast = an_attempt(at=ago(minutes=-6)), an_attempt(at=ago(minutes=-4))
    said = verdicts(caller, episode, ahead, fast)
    assert [one["outcome"] for one in said] == ["refused", "accepted"]
    assert said[0]["error"].startswith("at:")


def test_an_entry_of_another_episode(caller: APIClient, episode: Episode) -> None:
    """It names another reference than the record that it is sent to."""
    said = verdicts(caller, episode, {**an_attempt(), "episode": "E00-0000"})
    assert (said[0]["outcome"], said[0]["error"].split(":")[0]) == ("refused", "episode")


def test_other_content_under_one_id(caller: APIClient, episode: Episode) -> None:
    """What was received first stays."""
    first = an_attempt(at=ago(minutes=2))
    said = verdicts(caller, episode, first, {**first, "result": "unsafe"}, first)
    assert [one["outcome"] for one in said] == ["accepted", "refused", "repeated"]
    assert Entry.objects.filter(id=first["id"]).count() == 1


def test_ten_thousand_in_a_batch(caller: APIClient, episode: Episode) -> None:
    """Refused as a whole, with how many may be sent; nothing is taken."""
    before = Entry.objects.count()
    many = [an_entry("session_opened", at=ago(minutes=1)) for _ in range(10_000)]
    answer = caller.post(f"/api/v1/episodes/{episode.pk}/entries/", {"entries": many})
    assert (answer.status_code, answer.json()["code"], "1,000" in answer.json()["detail"]) == (
        422,
        "too_many_entries",
        True,
    )
    assert Entry.objects.count() == before


def test_a_body_beyond_every_batch(caller: APIClient, episode: Episode) -> None:
    """A body that no honest batch reaches is refused before it is read."""
    answer = raw(caller, episode, b'{"entries": ["' + b"x" * 40_000_000 + b'"]}')
    assert (answer.status_code, answer["Content-Type"].startswith("application/problem+json")) == (413, True)


@pytest.mark.parametrize(
    "body",
    [b"\xff\xfe{}", b'{"entries": [', b'{"entries": "' + b"\xc3\x28" + b'"}', b"[" * 100_000, b"null", b"[]", b'"x"'],
    ids=["a byte that is no UTF-8", "cut off", "broken UTF-8", "100,000 brackets", "null", "a list", "a text"],
)
def test_a_body_that_is_no_batch(body: bytes, caller: APIClient, episode: Episode) -> None:
    """One problem, one sentence."""
    answer = raw(caller, episode, body)
    assert (answer.status_code, answer["Content-Type"].startswith("application/problem+json")) == (400, True)


def test_an_entry_that_is_no_object(caller: APIClient, episode: Episode) -> None:
    """A number, a text, nothing: each refused by itself."""
    said = verdicts(caller, episode, 7, "attempt", None, [], a_check())
    assert [one["outcome"] for one in said] == ["refused"] * 4 + ["accepted"]


def test_a_fall_that_is_refused_is_put_before_the_lead(caller: APIClient, episode: Episode) -> None:
    """It is urgent: nobody may lose a fall by a misspelt word."""
    verdicts(caller, episode, a_fall(injury="a scratch"))
    assert RefusedEntry.objects.filter(urgent=True, episode=episode).count() == 1


def test_the_database_gone(caller: APIClient, episode: Episode, monkeypatch: pytest.MonkeyPatch) -> None:
    """A problem that says so, with 503; the same request is taken when it is back."""
    from django.db import OperationalError

    def gone(*args: object, **kwargs: object) -> None:
        raise OperationalError("the connection is closed")

    entry = {**an_attempt(), "id": str(uuid.uuid4()), "at": stamp(now())}
    with monkeypatch.context() as broken:
        broken.setattr("api.record.record_entries", gone)
        answer = caller.post(f"/api/v1/episodes/{episode.pk}/entries/", {"entries": [entry]})
    assert (answer.status_code, answer.json()["code"]) == (503, "unavailable")
    assert verdicts(caller, episode, entry)[0]["outcome"] == "accepted"
