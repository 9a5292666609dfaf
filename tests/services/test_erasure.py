"""Erasure where the law demands it: by two people, of one person, and the proofs hold."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any
from uuid import uuid4

import pytest
from django.apps import apps
from django.core.management import call_command
from django.db import ProgrammingError, connection, transaction
from psycopg import sql

from caseload.models import Assignment, Person, Visit
from caseload.person.erased import Gone
from checklists.keeping import erase_sql, erasing, giving
from checklists.keeping.asking import ask_correction
from checklists.keeping.models import Erased, Erasure, ErasureDecision
from checklists.keeping.services import lift_hold, place_hold, set_retention
from checklists.models import Alert, Entry, EntryContent, Head, RefusedEntry, SignedEvidence
from checklists.person.selectors import people, person_page
from checklists.record.checking import differences
from clinic.audit.models import TrailRow
from clinic.errors import Conflict, Denied, Invalid, NotFound
from clinic.ledger.seal import seal
from clinic.ledger.verify.run import verify, verify_episode
from clinic.staff import reauthenticate
from clinic.staff.reauthenticate import Proof
from tests.makers import (
    a_lead,
    a_person,
    a_records_officer,
    a_referral,
    a_staff,
    a_therapist,
    ago,
    an_attempt,
    an_episode,
    now,
    recorded,
)
from tests.services.erasure_scene import GROUND, a_signed_episode, an_ended_episode, asked, done, rows_of

pytestmark = [pytest.mark.django_db(transaction=True), pytest.mark.usefixtures("erasing_here")]


# --- what goes and what stays ---------------------------------------------------------------------------------------


def test_the_content_goes_and_the_commitments_and_the_reason_stay() -> None:
    episode = an_ended_episode()
    commitments = list(Entry.objects.filter(episode=episode).order_by("number").values_list("id", "commitment", "leaf"))
    row = done(episode)
    assert list(Entry.objects.order_by("number").values_list("id", "commitment", "leaf")) == commitments
    assert len(commitments) >= 4
    for model in (EntryContent, SignedEvidence, Alert, RefusedEntry, Head, Visit):
        assert not model._default_manager.exists(), model
    person = Person.objects.get(pk=episode.person_id)
    assert (person.given_name, person.family_name, person.address, person.second_identifier) == ("", "erased", "", "")
    assert person.erased_because == f"{row.ground}: {row.reason}"
    assert row.erased.counts["entrycontent"] == len(commitments)
    assert Assignment.objects.get(episode=episode).reason == ""


def test_no_word_about_the_person_is_left_anywhere() -> None:
    episode = an_ended_episode()
    person = Person.objects.get(pk=episode.person_id)
    words = [person.second_identifier, "Ashdown", "Mill Lane", "stumbled", "neighbour", "moved away", "1961-04-02"]
    before = everything()
    assert all(word in before for word in words)
    done(episode)
    after = everything()
    assert [word for word in words if word in after] == []


def everything() -> str:
    """Every row of every table as text."""
    with connection.cursor() as cursor:
        cursor.execute("SELECT tablename FROM pg_tables WHERE schemaname = 'public'")
        found = []
        for (table,) in cursor.fetchall():
            cursor.execute(sql.SQL("SELECT string_agg(t::text, ' ') FROM {} t").format(sql.Identifier(table)))
            found.append(str(cursor.fetchone()[0]))
    return "\n".join(found)


def test_nobody_else_loses_a_row() -> None:
    other = an_ended_episode(a_person(given_name="Kim", family_name="Orchard"))
    before = rows_of(other)
    assert len(before) > 10
    done(an_ended_episode())
    assert rows_of(other) == before


def test_every_table_about_a_person_is_erased_or_said_to_stay() -> None:
    """A new table that names a person, an episode, an entry or an alert must be named in erase_sql.py."""
    about = {"caseload_person", "caseload_episode", "checklists_entry", "checklists_alert", "checklists_erasure"}
    about |= {"caseload_plannedreview", "caseload_prosthesis", "checklists_archive"}
    found = set()
    for model in apps.get_models():
        for field in model._meta.concrete_fields:
            other: Any = field.related_model
            if other is not None and other._meta.db_table in about:
                found.add(model._meta.db_table)
    named = {table for table, _ in erase_sql.STEPS} | set(erase_sql.STAY)
    assert found - named == set()
    assert {table for table, _ in erase_sql.STEPS} & set(erase_sql.STAY) == set()


# --- who and when ---------------------------------------------------------------------------------------------------


def test_a_records_officer_asks_and_a_lead_confirms() -> None:
    episode = an_ended_episode()
    for actor in (a_lead(), a_therapist()):
        with pytest.raises((Denied, NotFound)):
            erasing.ask_erasure(actor=actor, person_id=episode.person_id, overrides_retention=True, **GROUND)
    row = asked(episode)
    for actor in (row.asked_by, a_records_officer(), a_therapist()):
        with pytest.raises((Denied, NotFound)):
            erasing.confirm_erasure(actor=actor, erasure_id=row.pk, proof=Proof())
    assert EntryContent.objects.exists()
    verbs = TrailRow.objects.filter(subject_id=str(row.pk)).values_list("verb", flat=True)
    assert list(verbs) == ["erasure.asked"]


def test_nobody_does_both_whatever_roles_they_hold() -> None:
    episode, both = an_ended_episode(), a_staff("clinic_lead", "records_officer")
    row = erasing.ask_erasure(actor=both, person_id=episode.person_id, overrides_retention=True, **GROUND)
    with pytest.raises(Denied, match="two people"):
        erasing.confirm_erasure(actor=both, erasure_id=row.pk, proof=Proof())


def test_whoever_confirms_shows_again_who_they_are(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(erasing, "confirm", reauthenticate.confirm)
    episode = an_ended_episode()
    row = asked(episode)
    with pytest.raises(Exception, match=r"[Pp]assword|factor"):
        erasing.confirm_erasure(actor=a_lead(), erasure_id=row.pk, proof=Proof(password="not this one", code="000000"))
    assert not ErasureDecision.objects.exists()
    assert EntryContent.objects.exists()


@pytest.mark.parametrize(("ground", "reason"), [("", "x"), ("x", " ")])
def test_without_ground_or_reason_nothing_is_asked(ground: Any, reason: Any) -> None:
    with pytest.raises(Invalid):
        erasing.ask_erasure(
            actor=a_records_officer(), person_id=an_ended_episode().person_id, ground=ground, reason=reason
        )
    assert not Erasure.objects.exists()


def test_under_a_hold_nothing_goes_whatever_the_ground() -> None:
    episode, officer = an_ended_episode(), a_records_officer()
    hold = place_hold(actor=officer, person_id=episode.person_id, reason="a claim")
    with pytest.raises(erasing.MustStay, match="legal hold"):
        asked(episode)
    lift_hold(actor=officer, hold_id=hold.pk, reason="settled")
    row = asked(episode)
    place_hold(actor=officer, person_id=episode.person_id, reason="another claim")
    with pytest.raises(erasing.MustStay, match="legal hold"):
        erasing.confirm_erasure(actor=a_lead(), erasure_id=row.pk, proof=Proof())
    assert EntryContent.objects.exists()


def test_inside_retention_the_ground_must_say_that_it_overrides_it() -> None:
    episode = an_ended_episode()
    with pytest.raises(erasing.MustStay, match="kept for ever"):
        asked(episode, overrides=False)
    set_retention(actor=a_lead(), site_id=episode.site_id, years=10, reason="policy")
    with pytest.raises(erasing.MustStay, match="kept until"):
        asked(episode, overrides=False)
    assert asked(episode, overrides=True).overrides_retention


def test_whoever_is_in_care_or_waits_stays_in_the_record() -> None:
    with pytest.raises(erasing.MustStay, match="in care"):
        asked(an_episode())
    waits = a_referral()
    with pytest.raises(erasing.MustStay, match="in care"):
        erasing.ask_erasure(actor=a_records_officer(), person_id=waits.person_id, overrides_retention=True, **GROUND)


def test_it_is_asked_once_at_a_time_and_may_be_turned_down() -> None:
    episode, lead = an_ended_episode(), a_lead()
    row = asked(episode)
    with pytest.raises(Conflict, match="already"):
        asked(episode)
    with pytest.raises(Invalid):
        erasing.turn_down_erasure(actor=lead, erasure_id=row.pk, reason="")
    erasing.turn_down_erasure(actor=lead, erasure_id=row.pk, reason="the ground does not hold")
    with pytest.raises(Conflict, match="decided already"):
        erasing.confirm_erasure(actor=lead, erasure_id=row.pk, proof=Proof())
    asked(episode)
    assert EntryContent.objects.exists()


# --- afterwards -----------------------------------------------------------------------------------------------------


def test_every_way_to_the_person_says_that_it_was_erased_and_why() -> None:
    episode = an_ended_episode()
    done(episode)
    lead, officer = a_lead(), a_records_officer()
    ways: list[Callable[[], Any]] = [
        lambda: person_page(lead, episode.pk, at=now()),
        lambda: giving.ask_archive(actor=officer, person_id=episode.person_id, why="x"),
        lambda: giving.export_person(actor=None, number=Person.objects.get(pk=episode.person_id).number),
        lambda: ask_correction(actor=lead, episode_id=episode.pk, text="x", asked_by="y"),
        lambda: place_hold(actor=officer, person_id=episode.person_id, reason="x"),
    ]
    for way in ways:
        with pytest.raises(Gone, match=r"Erased on .* because of Article 17 of the regulation: asked for"):
            way()
    assert people(lead, "", at=now(), closed=True) == []


def test_nothing_is_recorded_about_them_any_more() -> None:
    episode = an_ended_episode()
    done(episode)
    with pytest.raises(NotFound):
        recorded(a_lead(), episode, an_attempt(at=ago(minutes=1)))
    assert not EntryContent.objects.exists()
    assert not RefusedEntry.objects.exists()


def test_export_and_check_say_so(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    episode, other = an_ended_episode(), an_episode()
    entries = Entry.objects.filter(episode=episode).count()
    done(episode)
    call_command("export_record", str(tmp_path / "out.jsonl"), "--all")
    lines = [json.loads(line) for line in (tmp_path / "out.jsonl").read_text().splitlines()]
    assert {line["episode"] for line in lines} == {other.reference}
    assert f"{episode.reference}: Erased on " in (said := capsys.readouterr().err)
    assert f"Its {entries} entries are not in this file." in said
    call_command("check_replay")
    said = capsys.readouterr().err
    assert "2 episodes compared, 0 differences" in said
    assert f"{episode.reference}: Erased on " in said


def test_a_head_that_is_missing_without_an_erasure_is_a_difference() -> None:
    assert differences(uuid4(), "E-0", now()) == ["E-0: has no head, and nobody erased it"]


def test_the_rows_of_the_erasure_itself_cannot_be_made_by_the_programme() -> None:
    row = asked(an_ended_episode())
    with pytest.raises(ProgrammingError, match="permission denied"), transaction.atomic():
        Erased.objects.create(erasure=row, at=now(), counts={})


def test_the_ledger_still_holds() -> None:
    """Each leaf is made of the row, which holds a salted commitment of the content and nothing of it."""
    episode = a_signed_episode()
    seal(now())
    before = verify()
    assert before.holds, before.sentences()
    done(episode)
    seal(now())
    after = verify()
    assert after.holds, after.sentences()
    assert after.size > before.size
    assert verify_episode(episode.pk).holds
