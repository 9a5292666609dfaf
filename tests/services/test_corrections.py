"""Corrections that somebody asks for: facts of the record that change nothing by themselves, and their answers."""

from __future__ import annotations

from datetime import timedelta
from typing import Any
from uuid import UUID, uuid4

import pytest
from django.conf import settings

from checklists.alerts.models import Notice
from checklists.keeping.asking import answer_correction, ask_correction
from checklists.keeping.corrections import Correction, corrections_of
from checklists.models import Entry, Head
from checklists.person.timeline import timeline
from checklists.record.checking import differences
from clinic.audit.models import TrailRow
from clinic.errors import Conflict, Denied, Invalid, NotFound
from clinic.outbox.drain import drain
from tests.makers import (
    a_lead,
    a_prosthetist,
    a_records_officer,
    a_site,
    a_therapist,
    ago,
    an_assistant,
    an_attempt,
    an_entry,
    an_episode,
    now,
    recorded,
)

pytestmark = pytest.mark.django_db(transaction=True)


def a_record() -> Any:
    """Somebody with two attempts, the second of which builds on the first."""
    therapist = a_therapist()
    episode = an_episode(assigned_to=therapist)
    first = an_attempt(at=ago(hours=2))
    second = an_attempt(support="bars_one", at=ago(hours=1))
    recorded(therapist, episode, first, second)
    return therapist, episode, UUID(first["id"]), UUID(second["id"])


def asked(actor: Any, episode: Any, **more: Any) -> UUID:
    given = {"text": "That was another day.", "asked_by": "the person", **more}
    return ask_correction(actor=actor, episode_id=episode.pk, **given).entry


def the_only(episode: Any) -> Correction:
    (found,) = corrections_of([episode.pk])[episode.pk]
    return found


@pytest.mark.parametrize("maker", [a_lead, a_prosthetist, a_records_officer, an_assistant])
def test_whoever_hears_it_writes_it_down(maker: Any) -> None:
    _, episode, first, _ = a_record()
    actor = maker(site=episode.site)
    asked(actor, episode, target=first)
    found = the_only(episode)
    assert (found.target, found.by, found.asked_by, found.open) == (str(first), actor.name, "the person", True)


def test_somebody_elses_therapist_is_told_nothing() -> None:
    _, episode, _, _ = a_record()
    for stranger in (a_therapist(), an_assistant(site=a_site("Quay Street"))):
        with pytest.raises(NotFound):
            asked(stranger, episode)


def test_asking_changes_no_status_and_raises_no_alert() -> None:
    therapist, episode, first, _ = a_record()
    before = Head.objects.get(pk=episode.pk)
    asked(therapist, episode, target=first)
    after = Head.objects.get(pk=episode.pk)
    assert bytes(after.snapshot) == bytes(before.snapshot)
    assert after.board["skills"] == before.board["skills"]
    assert differences(episode.pk, episode.reference, now()) == []


def test_it_leaves_its_row_and_the_leads_hear_of_it() -> None:
    therapist, episode, _, _ = a_record()
    lead = a_lead()
    request = asked(therapist, episode)
    drain()
    assert Notice.objects.filter(staff=lead, topic="correction.asked", subject_id=str(request)).count() == 1
    row = TrailRow.objects.filter(verb="entries.recorded", episode=episode.pk).latest("number")
    assert row.detail == {"entries": [str(request)]}


def test_sent_twice_it_is_one_request() -> None:
    therapist, episode, _, _ = a_record()
    key = uuid4()
    assert asked(therapist, episode, entry_id=key) == asked(therapist, episode, entry_id=key)
    assert Entry.objects.filter(kind="correction_requested").count() == 1


@pytest.mark.parametrize(
    ("more", "field"), [({"text": "  "}, "Say what"), ({"asked_by": ""}, "Say who"), ({"target": uuid4()}, "not in")]
)
def test_what_says_nothing_is_not_taken(more: Any, field: Any) -> None:
    therapist, episode, _, _ = a_record()
    with pytest.raises(Invalid, match=field):
        asked(therapist, episode, **more)
    assert not Entry.objects.filter(kind="correction_requested").exists()


def test_an_entry_of_another_person_cannot_be_named() -> None:
    therapist, episode, _, _ = a_record()
    _, _, other, _ = a_record()
    with pytest.raises(Invalid, match="not in this person's record"):
        asked(therapist, episode, target=other)


def test_only_a_lead_answers() -> None:
    therapist, episode, _, _ = a_record()
    request = asked(therapist, episode)
    for actor in (therapist, a_records_officer()):
        with pytest.raises((Denied, NotFound)):
            answer_correction(
                actor=actor, episode_id=episode.pk, request_id=request, answer="declined", reason="It was so."
            )
    assert the_only(episode).open


def test_declined_with_the_reason_it_stays_beside_the_entry() -> None:
    therapist, episode, first, _ = a_record()
    request = asked(therapist, episode, target=first)
    answer_correction(
        actor=a_lead(), episode_id=episode.pk, request_id=request, answer="declined", reason="Two of us saw it."
    )
    line = next(line for line in timeline(episode.pk).rows if line.entry == first)
    (shown,) = line.corrections
    assert shown.answered is not None
    assert shown.answered.words == "declined: Two of us saw it."
    assert not line.struck
    assert not shown.open


def test_agreed_with_a_strike_out_both_are_written_and_the_record_follows_from_it() -> None:
    therapist, episode, first, _ = a_record()
    request = asked(therapist, episode, target=first)
    lead = a_lead()
    said = answer_correction(actor=lead, episode_id=episode.pk, request_id=request, answer="agreed", strike=True)
    strike = Entry.objects.get(kind="struck_out", episode=episode)
    assert the_only(episode).answers[0].struck == (str(strike.id),)
    assert [alert.rule for alert in said.recorded.raised] == ["support_step"]  # what built on it was a rung too far
    line = next(line for line in timeline(episode.pk).rows if line.entry == first)
    assert line.struck == f"As the person asked: That was another day. ({lead.name})"
    assert differences(episode.pk, episode.reference, now()) == []


def test_agreed_names_what_was_added() -> None:
    therapist, episode, first, _ = a_record()
    request = asked(therapist, episode, target=first)
    new = an_attempt(at=ago(minutes=1))
    recorded(therapist, episode, new)
    answer_correction(
        actor=a_lead(), episode_id=episode.pk, request_id=request, answer="agreed", added=[UUID(new["id"])]
    )
    assert the_only(episode).answers[0].words == "agreed: 1 added"


@pytest.mark.parametrize(
    ("more", "why"),
    [
        ({"answer": "declined"}, "reason: missing"),
        ({"answer": "agreed"}, "reason: missing"),
        ({"answer": "perhaps", "reason": "x"}, "answer: unknown"),
        ({"answer": "agreed", "struck": [uuid4()]}, "strike-outs of this"),
        ({"answer": "agreed", "added": [uuid4()]}, "entries of this"),
        ({"answer": "declined", "strike": True, "reason": "x"}, "struck: "),
    ],
)
def test_an_answer_that_says_nothing_or_names_what_is_not_here_is_refused_whole(more: Any, why: Any) -> None:
    therapist, episode, first, _ = a_record()
    request = asked(therapist, episode, target=first)
    with pytest.raises(Invalid, match=why):
        answer_correction(actor=a_lead(), episode_id=episode.pk, request_id=request, **more)
    assert the_only(episode).open
    assert not Entry.objects.filter(kind__in=["struck_out", "correction_answered"]).exists()


def test_a_request_without_an_entry_has_nothing_to_strike() -> None:
    therapist, episode, _, _ = a_record()
    request = asked(therapist, episode)
    with pytest.raises(Invalid, match="names no entry"):
        answer_correction(actor=a_lead(), episode_id=episode.pk, request_id=request, answer="agreed", strike=True)


def test_answered_once_it_is_answered_anew_only_after_the_answer_is_struck_out() -> None:
    therapist, episode, _, _ = a_record()
    lead, request = a_lead(), asked(therapist, episode)
    said: dict[str, Any] = {"answer": "declined", "reason": "No.", "episode_id": episode.pk, "request_id": request}
    key = uuid4()
    answer_correction(actor=lead, **said, entry_id=key)
    assert answer_correction(actor=lead, **said, entry_id=key).entry == key  # sent twice
    with pytest.raises(Conflict, match="answered already: declined: No"):
        answer_correction(actor=lead, **said)
    recorded(lead, episode, an_entry("struck_out", entry=str(key), reason="Looked again."))
    assert the_only(episode).open
    answer_correction(actor=lead, **{**said, "answer": "agreed", "reason": "The address was changed."})
    assert [one.answer for one in the_only(episode).answers] == ["declined", "agreed"]


def test_a_request_that_is_struck_out_is_seen_and_not_answered() -> None:
    therapist, episode, _, _ = a_record()
    request = asked(therapist, episode)
    recorded(therapist, episode, an_entry("struck_out", entry=str(request), reason="on the wrong person"))
    assert the_only(episode).withdrawn == f"on the wrong person ({therapist.name})"
    with pytest.raises(Conflict, match="struck out"):
        answer_correction(
            actor=a_lead(), episode_id=episode.pk, request_id=request, answer="declined", reason="It was so."
        )


def test_the_day_by_which_an_answer_is_due_is_the_clinics_setting() -> None:
    therapist, episode, _, _ = a_record()
    asked(therapist, episode)
    found = the_only(episode)
    assert found.due_on == now().date() + timedelta(days=settings.CORRECTION_DAYS)
    assert not found.late(found.due_on)
    assert found.late(found.due_on + timedelta(days=1))


def test_the_entries_go_the_one_write_path_by_the_api_too() -> None:
    therapist, episode, _, _ = a_record()
    request = an_entry("correction_requested", text="Not so.", asked_by="her daughter")
    answer = an_entry("correction_answered", request=request["id"], answer="declined", reason="It was.")
    taken = recorded(therapist, episode, request, answer)
    assert [verdict.outcome for verdict in taken.verdicts] == ["accepted", "refused"]
    assert "answer correction" in (taken.verdicts[1].error or "")
