"""Sealed marks: brought by anybody, read and recorded by their author alone, under their own name."""

from __future__ import annotations

import base64
import uuid
from typing import Any

import pytest

from caseload.models import Episode
from checklists.models import EntryContent, SealedMark
from checklists.record.models import Entry
from checklists.sealed.bringing import MOST_WAITING, bring
from checklists.sealed.selectors import count_waiting, names_of, waiting
from checklists.sealed.services import drop_mark, record_marks
from clinic.audit.models import TrailRow
from clinic.errors import Invalid, NotFound
from clinic.staff.models import Staff
from tests.makers import a_lead, a_person, a_therapist, ago, an_assistant, an_attempt, an_episode, now, recorded, stamp
from tests.sealing import a_sealed_mark, sealed

pytestmark = pytest.mark.django_db(transaction=True)


@pytest.fixture
def runa() -> Staff:
    return a_therapist(name="Runa Achterling")


@pytest.fixture
def ines(runa: Staff) -> Episode:
    return an_episode(assigned_to=runa, person=a_person(given_name="Ines", family_name="Vartholm"))


def brought(by: Staff, *marks: dict[str, str]) -> list[str]:
    return [one.outcome for one in bring(actor=by, marks=marks)]


def in_record(episode: Episode, id_: str) -> Entry | None:
    return Entry.objects.filter(episode=episode, id=id_).select_related("by").first()


def test_what_a_colleague_brings_is_recorded_by_its_author_under_their_name(runa: Staff, ines: Episode) -> None:
    at = ago(minutes=40)
    entry = an_attempt("don_check", "none", at=at)
    jorun = an_assistant(name="Jorun Wexthorn")
    assert brought(jorun, sealed(runa, ines, entry)) == ["kept"]
    assert in_record(ines, entry["id"]) is None
    [row] = waiting(runa, at=now())
    assert (row.person, row.happened_at, row.brought_by) == ("Ines Vartholm", at, "Jorun Wexthorn")
    assert row.what is not None
    done = record_marks(actor=runa, ids=[row.id])
    assert (done.recorded, done.held, done.refused) == (1, 0, 0)
    fact = in_record(ines, entry["id"])
    assert fact is not None
    assert (fact.by, fact.at) == (runa, at)
    assert waiting(runa, at=now()) == []
    mark = SealedMark.objects.get()
    assert (mark.outcome, bytes(mark.box), bytes(mark.enc)) == ("recorded", b"", b"")
    verbs = set(TrailRow.objects.filter(verb__startswith="sealed.").values_list("verb", "actor__reference"))
    assert verbs == {("sealed.brought", jorun.reference), ("sealed.recorded", runa.reference)}


def test_nobody_else_sees_records_or_drops_it(runa: Staff, ines: Episode) -> None:
    lead = a_lead()
    mark = a_sealed_mark(runa, ines, by=lead)
    assert count_waiting(lead) == 0
    assert record_marks(actor=lead, ids=[mark.pk]).recorded == 0
    with pytest.raises(NotFound):
        drop_mark(actor=lead, mark_id=mark.pk, reason="not mine")
    assert count_waiting(runa) == 1
    assert not Entry.objects.filter(id=mark.mark).exists()


def test_bringing_it_again_is_the_same_and_what_is_in_the_record_is_known(runa: Staff, ines: Episode) -> None:
    entry = an_attempt()
    mark = sealed(runa, ines, entry)
    lead = a_lead()
    assert brought(lead, mark) == ["kept"]
    assert brought(lead, mark) == ["kept"]
    assert count_waiting(runa) == 1
    recorded(runa, ines, entry)
    assert brought(lead, sealed(runa, ines, entry)) == ["known"]
    [row] = waiting(runa, at=now())
    assert record_marks(actor=runa, ids=[row.id]).recorded == 1  # the same fact again is the same fact
    assert EntryContent.objects.filter(entry_id=entry["id"]).count() == 1


def test_other_words_under_an_id_of_the_record_do_not_pass_as_known(runa: Staff, ines: Episode) -> None:
    entry = an_attempt()
    recorded(runa, ines, entry)
    other = {**entry, "result": "unsafe"}
    assert brought(a_lead(), sealed(runa, ines, other)) == ["kept"]
    [row] = waiting(runa, at=now())
    assert record_marks(actor=runa, ids=[row.id]).refused == 1
    assert "other content" in waiting(runa, at=now())[0].error


@pytest.mark.parametrize("how", ["other name", "other id", "bytes", "no mark", "key", "person"])
def test_what_is_forged_or_unreadable_is_said_and_can_only_be_dropped(runa: Staff, ines: Episode, how: str) -> None:
    author, entry = a_therapist(), an_attempt()
    mark: dict[str, Any] = {
        "other name": lambda: sealed(author, ines, entry, staff=runa.reference),
        "other id": lambda: sealed(runa, ines, entry, id=str(uuid.uuid4())),
        "bytes": lambda: sealed(runa, ines, entry) | {"box": base64.b64encode(b"x" * 90).decode()},
        "no mark": lambda: sealed(runa, ines, entry, content=["nothing"]),
        "key": lambda: sealed(runa, ines, entry) | {"key": "77"},
        "person": lambda: sealed(runa, ines, entry, content={"entry": entry, "episode": str(uuid.uuid4())}),
    }[how]()
    assert brought(author, mark) == ["kept"]
    [row] = waiting(runa, at=now())
    assert not row.may_be_recorded
    assert record_marks(actor=runa, ids=[row.id]).recorded == 0
    with pytest.raises(Invalid):
        drop_mark(actor=runa, mark_id=row.id, reason=" ")
    drop_mark(actor=runa, mark_id=row.id, reason="I never made this")
    drop_mark(actor=runa, mark_id=row.id, reason="again")
    assert waiting(runa, at=now()) == []
    assert SealedMark.objects.get().reason == "I never made this"
    assert TrailRow.objects.filter(verb="sealed.dropped", actor=runa).count() == 1


def test_a_mark_says_in_whose_name_it_was_made_and_passes_under_no_other(runa: Staff, ines: Episode) -> None:
    """Sealed rightly for Runa, but the fact inside says that it is Jorun's: the record refuses it."""
    jorun = a_therapist(name="Jorun Wexthorn")
    entry = an_attempt(by=jorun)
    assert brought(a_lead(), sealed(runa, ines, entry)) == ["kept"]
    [row] = waiting(runa, at=now())
    assert record_marks(actor=runa, ids=[row.id]).refused == 1
    assert in_record(ines, entry["id"]) is None


def test_a_person_who_is_not_theirs_any_more_is_not_shown_and_nothing_is_lost(runa: Staff) -> None:
    other = an_episode(assigned_to=a_therapist(), person=a_person(given_name="Corin", family_name="Ashgrove"))
    a_sealed_mark(runa, other, by=a_lead())
    [row] = waiting(runa, at=now())
    assert (row.person, row.number, row.may_be_recorded) == ("", "", False)
    assert record_marks(actor=runa, ids=[row.id]).refused == 1
    assert count_waiting(runa) == 1


def test_marks_go_into_the_record_in_the_order_in_which_they_happened(runa: Staff, ines: Episode) -> None:
    opened = {"kind": "session_opened", "id": str(uuid.uuid4()), "at": stamp(ago(minutes=9)), "seq": 0}
    attempt = an_attempt("don_check", "none", at=ago(minutes=8))
    brought(a_lead(), sealed(runa, ines, attempt), sealed(runa, ines, opened))
    rows = waiting(runa, at=now())
    assert next(row.what.head for row in rows if row.what) == "Session opened"
    assert record_marks(actor=runa, ids=[row.id for row in reversed(rows)]).recorded == 2
    kinds = Entry.objects.filter(episode=ines).order_by("number").values_list("kind", flat=True)
    assert list(kinds)[-2:] == ["session_opened", "attempt"]


def test_nobody_is_buried_under_invented_marks(runa: Staff, ines: Episode, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("checklists.sealed.bringing.MOST_WAITING", 2)
    assert MOST_WAITING > 100
    marks = [sealed(runa, ines, an_attempt()) for _ in range(3)]
    assert brought(a_lead(), *marks) == ["kept", "kept", "refused"]
    assert brought(a_lead(), sealed(runa, ines, an_attempt(), staff="S-999999")) == ["refused"]
    assert count_waiting(runa) == 2


def test_only_who_reads_for_whom_marks_wait_is_told_whose_they_are(runa: Staff) -> None:
    wanted = [runa.reference, runa.reference]
    assert names_of(a_lead(), wanted, at=now()) == {runa.reference: "Runa Achterling"}
    assert names_of(an_assistant(), wanted, at=now()) == {}
