"""What somebody saw while the person was theirs may be written down later: the database lets that through, no more."""

from __future__ import annotations

from typing import Any

import pytest
from rest_framework.test import APIClient

from checklists.models import Entry, HeldEntry
from checklists.record.services import record_entries
from clinic.access.standing import standing_as
from clinic.errors import NotFound
from clinic.staff.models import Staff
from clinic.staff.roles import Role
from tests.makers import (
    JOINED,
    a_check,
    a_cover,
    a_site,
    a_staff,
    a_therapist,
    a_token,
    ago,
    an_assistant,
    an_attempt,
    an_episode,
    recorded,
)

pytestmark = pytest.mark.django_db


def sent(staff: Staff, episode: Any, *entries: dict[str, Any]) -> Any:
    """The answer of the API to entries of a programme that acts for somebody."""
    caller = APIClient(raise_request_exception=False)
    caller.credentials(HTTP_AUTHORIZATION=f"Token {a_token(staff)}")
    return caller.post(f"/api/v1/episodes/{episode.pk}/entries/", {"entries": list(entries)}, format="json")


def outcomes(answer: Any) -> list[str]:
    assert answer.status_code == 200, answer.content
    return [one["outcome"] for one in answer.json()["verdicts"]]


def test_whoever_covered_then_records_now_what_they_saw_then() -> None:
    episode, cover = an_episode(), a_therapist()
    a_cover(episode, cover, start=ago(days=2), end=ago(hours=1))
    assert outcomes(sent(cover, episode, a_check(at=ago(hours=3)), an_attempt(at=ago(hours=2)))) == ["accepted"] * 2
    assert Entry.objects.filter(episode=episode, sender=cover).count() == 2


def test_what_they_cannot_have_seen_waits_for_the_lead() -> None:
    episode, cover = an_episode(), a_therapist()
    a_cover(episode, cover, start=ago(days=2), end=ago(hours=1))
    late = an_attempt(at=ago(minutes=10))
    assert outcomes(sent(cover, episode, late)) == ["held"]
    assert outcomes(sent(cover, episode, late)) == ["held"]
    assert HeldEntry.objects.get(episode=episode).sender == cover


def test_who_recorded_yesterday_and_holds_no_role_today_is_heard() -> None:
    episode, assistant = an_episode(), an_assistant()
    assistant.role_terms.update(period=(JOINED.date(), ago().date()))
    assert outcomes(sent(assistant, episode, an_attempt(at=ago(days=1, hours=1)))) == ["accepted"]


@pytest.mark.parametrize("stranger", ["therapist", "assistant elsewhere", "to come"])
def test_a_stranger_is_told_nothing_even_without_the_codes_filter(no_filter_in_code: None, stranger: str) -> None:
    episode = an_episode(site=a_site("Alder Reach"))
    who = an_assistant(site=a_site("Quay Street")) if stranger == "assistant elsewhere" else a_therapist()
    if stranger == "to come":
        a_cover(episode, who, start=ago(days=-1), end=None)
    before = Entry.objects.count()
    assert sent(who, episode, an_attempt(at=ago(minutes=10))).status_code == 404
    with standing_as(who), pytest.raises(NotFound):
        record_entries(actor=who, episode_id=episode.pk, entries=[an_attempt(at=ago(minutes=10))])
    assert Entry.objects.count() == before


@pytest.mark.django_db(transaction=True)
def test_an_id_that_stands_where_the_sender_does_not_look_is_refused_with_a_sentence() -> None:
    theirs, owner = an_episode(), a_therapist()
    own = an_episode(assigned_to=owner)
    taken = an_attempt(at=ago(minutes=10))
    carrier = theirs.assignments.get().staff
    recorded(carrier, theirs, a_check(at=ago(minutes=20)), taken)
    fresh = an_attempt(at=ago(minutes=9))
    answer = sent(owner, own, a_check(at=ago(minutes=20)), {**taken}, fresh)
    assert outcomes(answer) == ["accepted", "refused", "accepted"]
    assert "another episode" in answer.json()["verdicts"][1]["error"]


def test_an_emergency_reads_and_does_not_write() -> None:
    from django.db.backends.postgresql.psycopg_any import DateTimeTZRange

    from caseload.emergency.models import EmergencyAccess

    episode, who = an_episode(), a_staff(Role.THERAPIST)
    period = DateTimeTZRange(ago(minutes=5), ago(minutes=-55))
    EmergencyAccess.objects.create(episode=episode, staff=who, period=period, reason="A fall on the stairs.")
    with standing_as(who):
        assert Entry.objects.filter(episode=episode).exists()
    assert sent(who, episode, an_attempt(at=ago(minutes=1))).status_code == 404
