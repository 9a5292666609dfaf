"""Erasure where the law demands it: by two people, of one person, and the proofs hold."""

from __future__ import annotations

import json
import os
from collections.abc import Callable
from pathlib import Path
from typing import Any
from uuid import UUID, uuid4

import psycopg
import pytest
from django.apps import apps
from django.core.management import call_command
from django.core.management.base import CommandError
from django.db import InternalError, ProgrammingError, connection, transaction
from psycopg import sql

from caseload.models import Assignment, Person, Visit
from caseload.person.erased import Gone
from checklists.episode.services import close_episode
from checklists.keeping import erase_sql, erased_list, erasing, giving
from checklists.keeping.asking import ask_correction
from checklists.keeping.models import Erased, Erasure, ErasureDecision
from checklists.keeping.services import lift_hold, place_hold, set_retention
from checklists.keeping.steps import erase
from checklists.models import Alert, Archive, Entry, EntryContent, Head, RefusedEntry, SignedEvidence
from checklists.person.selectors import people, person_page
from checklists.record.checking import differences
from checklists.signoff.services import readiness, sign_off
from clinic.audit import trail
from clinic.audit.models import TrailRow
from clinic.errors import Conflict, Denied, Invalid, NotFound
from clinic.ledger.seal import seal
from clinic.ledger.verify.run import verify, verify_episode
from clinic.staff import reauthenticate
from clinic.staff.reauthenticate import Proof
from tests.makers import (
    a_fall,
    a_lead,
    a_person,
    a_proof,
    a_records_officer,
    a_referral,
    a_staff,
    a_therapist,
    ago,
    an_attempt,
    an_entry,
    an_episode,
    imported,
    now,
    recorded,
)

pytestmark = pytest.mark.django_db(transaction=True)
GROUND = {"ground": "Article 17 of the regulation", "reason": "asked for, and nothing stands against it"}


@pytest.fixture(autouse=True)
def _here(settings: Any, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The list of erasures lies in a folder of the test; that it is oneself is shown in a test of its own."""
    settings.ERASURES_FILE = str(tmp_path / "erasures.jsonl")
    monkeypatch.setattr(erasing, "confirm", lambda actor, proof: None)


def an_ended_episode(person: Any = None) -> Any:
    """A closed episode with facts of most kinds, alerts, refusals, plans."""
    therapist = a_therapist()
    person = person or a_person(given_name="Robin", family_name="Ashdown", address="1 Mill Lane")
    episode = an_episode(assigned_to=therapist, person=person)
    recorded(
        therapist, episode, an_attempt(support="none", at=ago(hours=2), note="Robin stumbled"), a_fall(injury="very")
    )
    imported(therapist, episode, an_entry("sign_off", at=ago(hours=1), by=therapist, skill="don_check"))
    SignedEvidence.objects.create(
        entry=Entry.objects.get(episode=episode, kind="sign_off"), skill="don_check", statement="I, …", evidence="{}",
        digest="0" * 64, protocol="above_knee@1", signer_name=therapist.name,
    )  # fmt: skip
    Assignment.objects.filter(episode=episode).update(reason="her neighbour")
    Visit.objects.create(episode=episode, site=episode.site, staff=therapist, starts_at=ago(days=1), minutes=45)
    close_episode(actor=a_lead(), episode_id=episode.pk, reason="moved away")
    episode.refresh_from_db()
    return episode


def a_signed_episode() -> Any:
    """A closed episode with a skill that was signed off on its evidence."""
    signer = a_therapist()
    episode = an_episode(assigned_to=signer)
    for days in (2, 1, 1):
        recorded(signer, episode, an_attempt("don_check", "none", help="watching", at=ago(days=days)))
    about: dict[str, Any] = {"actor": signer, "episode_id": episode.pk, "skill": "don_check"}
    sign_off(**about, digest=readiness(**about).digest, proof=a_proof(signer))
    close_episode(actor=a_lead(), episode_id=episode.pk, reason="reached")
    return episode


def asked(episode: Any, *, overrides: bool = True) -> Erasure:
    return erasing.ask_erasure(
        actor=a_records_officer(), person_id=episode.person_id, overrides_retention=overrides, **GROUND
    )


def done(episode: Any) -> Erasure:
    """Asked for and confirmed."""
    row = asked(episode)
    erasing.confirm_erasure(actor=a_lead(), erasure_id=row.pk, proof=Proof())
    return row


def rows_of(episode: Any) -> dict[str, list[Any]]:
    """Everything in the database that names the person, the episode or one of its entries, table by table."""
    found: dict[str, list[Any]] = {}
    keys = {str(episode.pk), str(episode.person_id)} | {
        str(one) for one in Entry.objects.filter(episode=episode).values_list("id", flat=True)
    }
    for model in apps.get_models():
        rows = [row for row in model._default_manager.values_list() if keys & {str(value) for value in row}]
        if rows:
            found[model._meta.db_table] = sorted(map(str, rows))
    return found


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


# --- the one function -----------------------------------------------------------------------------------------------


def refused(erasure: UUID, why: str) -> None:
    """The function refuses, and nothing has gone."""
    before = EntryContent.objects.count()
    with pytest.raises((ProgrammingError, InternalError), match=why), transaction.atomic():
        erase(erasure)
    assert EntryContent.objects.count() == before > 0


def decided(row: Erasure, by: Any, *, confirmed: bool = True) -> None:
    ErasureDecision.objects.create(erasure=row, confirmed=confirmed, decided_by=by, decided_at=now())


def test_what_two_people_have_not_decided_and_accounted_for_it_refuses() -> None:
    episode, lead = an_ended_episode(), a_lead()
    refused(uuid4(), "nobody has confirmed")
    row = asked(episode)
    refused(row.pk, "nobody has confirmed")
    decided(row, lead)
    refused(row.pk, "not accounted for")


def test_one_person_alone_it_refuses() -> None:
    row = asked(an_ended_episode())
    decided(row, row.asked_by)
    refused(row.pk, "one person alone")


def test_what_was_turned_down_it_refuses() -> None:
    row = asked(an_ended_episode())
    decided(row, a_lead(), confirmed=False)
    refused(row.pk, "nobody has confirmed")


def accounted(row: Erasure, lead: Any) -> None:
    """As the service does it, short of calling the function."""
    decided(row, lead)
    with transaction.atomic():
        trail.record(lead, "erasure.confirmed", "erasure", row.pk, at=now())


def test_under_a_hold_and_in_care_it_refuses_by_itself() -> None:
    episode, lead = an_ended_episode(), a_lead()
    row = asked(episode)
    accounted(row, lead)
    place_hold(actor=lead, person_id=episode.person_id, reason="a claim")
    refused(row.pk, "legal hold")
    other = an_ended_episode(a_person(given_name="Kim", family_name="Orchard"))
    again = asked(other)
    accounted(again, lead)
    an_episode(person=other.person)
    refused(again.pk, "in care")


def test_done_once_it_does_nothing_more() -> None:
    an_ended_episode(a_person(given_name="Kim", family_name="Orchard"))
    row = done(an_ended_episode())
    refused(row.pk, "done already")


def test_it_is_the_owners_its_path_is_pinned_and_only_the_programme_may_call_it() -> None:
    with connection.cursor() as cursor:
        cursor.execute(
            "SELECT pg_get_userbyid(proowner), prosecdef, proconfig, proacl::text[] FROM pg_proc"
            " WHERE proname = 'erase_person'"
        )
        owner, definer, config, rights = cursor.fetchone()
    assert (owner, definer) == ("clinic_owner", True)
    assert config == ["search_path=pg_catalog, public, pg_temp"]
    assert sorted(right.partition("/")[0] for right in rights) == ["clinic_app=X", "clinic_owner=X"]


def test_a_table_of_ones_own_does_not_stand_in_for_a_decision() -> None:
    row = asked(an_ended_episode())
    with transaction.atomic(), connection.cursor() as cursor:
        cursor.execute("CREATE TEMP TABLE checklists_erasuredecision AS SELECT * FROM checklists_erasuredecision")
        cursor.execute(
            "INSERT INTO pg_temp.checklists_erasuredecision VALUES (%s, true, '', now(), %s)", [row.pk, a_lead().pk]
        )
        with pytest.raises((ProgrammingError, InternalError), match="nobody has confirmed"), transaction.atomic():
            erase(row.pk)
        cursor.execute("DROP TABLE pg_temp.checklists_erasuredecision")


def test_saying_that_one_erases_opens_nothing(owner: psycopg.Connection) -> None:
    """Neither for the programme, which has no right, nor for the owner, as long as nobody has decided."""
    episode = an_ended_episode()
    row = asked(episode)
    free = {"checklists_deadline", "checklists_notice", "clinic_outboxrow", "checklists_archivefile"}  # may go anyway
    for table in sorted(set(erase_sql.GUARDED) - free):
        with pytest.raises(ProgrammingError), transaction.atomic(), connection.cursor() as cursor:
            says_and_takes(cursor, row, table)
    for table in ("checklists_entrycontent", "caseload_visit"):
        with pytest.raises(psycopg.errors.InsufficientPrivilege), owner.transaction():
            says_and_takes(owner, row, table)


def says_and_takes(behind: Any, row: Erasure, table: str) -> None:
    """What the function does, by hand."""
    behind.execute("SELECT set_config('clinic.erasing', %s, true)", [str(row.pk)])
    behind.execute(sql.SQL("DELETE FROM {}").format(sql.Identifier(table)))


# --- older backups --------------------------------------------------------------------------------------------------


def test_the_list_outside_the_database_names_it_without_a_word_about_the_person() -> None:
    episode = an_ended_episode()
    row = done(episode)
    (listed,) = erased_list.read(erased_list.file())
    assert (listed.erasure, listed.person, listed.ground) == (str(row.pk), str(episode.person_id), row.ground)
    assert erased_list.file().stat().st_mode & 0o077 == 0
    assert "Ashdown" not in erased_list.file().read_text()
    erased_list.file().unlink()
    assert erased_list.keep() == 1  # made good by the worker


def a_restored_backup(owner: psycopg.Connection, episode: Any) -> None:
    """The database as it was before the erasure: as far as this test needs it."""
    body, salt = '{"kind":"attempt"}', b"0" * 16
    entries = list(Entry.objects.filter(episode=episode).values_list("id", flat=True))
    with owner.transaction():
        owner.execute("ALTER TABLE checklists_erased DISABLE TRIGGER ALL")
        owner.execute("ALTER TABLE checklists_erasuredecision DISABLE TRIGGER ALL")
        owner.execute("ALTER TABLE checklists_erasure DISABLE TRIGGER ALL")
        owner.execute("DELETE FROM checklists_erased")
        owner.execute("DELETE FROM checklists_erasuredecision")
        owner.execute("DELETE FROM checklists_erasure")
        for table in ("checklists_erased", "checklists_erasuredecision", "checklists_erasure"):
            owner.execute(sql.SQL("ALTER TABLE {} ENABLE TRIGGER ALL").format(sql.Identifier(table)))
        owner.execute(
            "UPDATE caseload_person SET erased_at = NULL, given_name = 'Robin' WHERE id = %s", [episode.person_id]
        )
        for entry in entries:
            owner.execute("INSERT INTO checklists_entrycontent VALUES (%s, %s, %s)", [entry, body, salt])


def test_a_restored_backup_is_erased_again(capsys: pytest.CaptureFixture[str]) -> None:
    episode = an_ended_episode()
    row = done(episode)
    superuser = os.environ["TEST_SUPERUSER_URL"]
    with psycopg.connect(superuser, dbname=str(connection.settings_dict["NAME"])) as behind:
        a_restored_backup(behind, episode)
    assert EntryContent.objects.exists()
    call_command("reapply_erasures")
    assert f"{row.pk}: erased again" in capsys.readouterr().out
    assert not EntryContent.objects.exists()
    person = Person.objects.get(pk=episode.person_id)
    assert person.given_name == ""
    assert person.erased_at == ErasureDecision.objects.get().decided_at
    assert TrailRow.objects.filter(verb="erasure.reapplied", subject_id=str(row.pk)).count() == 1
    call_command("reapply_erasures")
    assert "is erased here already" in capsys.readouterr().out


def test_a_list_about_nobody_here_does_no_harm_and_a_broken_one_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "list.jsonl"
    episode = an_ended_episode()
    fields = {"ground": "g", "reason": "r", "overrides_retention": False, "asked_at": "2026-01-01T00:00:00+00:00"}
    fields |= {"decided_at": "2026-01-01T00:00:00+00:00", "asked_by": "S-0", "decided_by": "S-1"}
    path.write_text(json.dumps({"erasure": str(uuid4()), "person": str(uuid4()), **fields}) + "\n")
    call_command("reapply_erasures", str(path))
    path.write_text(json.dumps({"erasure": str(uuid4()), "person": str(episode.person_id), **fields}) + "\n")
    with pytest.raises(SystemExit):
        call_command("reapply_erasures", str(path))  # nobody here is S-0
    path.write_text("{}\n")
    with pytest.raises(CommandError, match="line 1"):
        call_command("reapply_erasures", str(path))
    assert EntryContent.objects.exists()


def test_the_archive_that_waited_goes_with_it() -> None:
    episode, officer = an_ended_episode(), a_records_officer()
    row = giving.ask_archive(actor=officer, person_id=episode.person_id, why="for Robin")
    giving.make_asked(row.pk, now())
    fingerprint = Archive.objects.get().digest
    done(episode)
    with pytest.raises(Gone):
        giving.take_archive(actor=officer, archive_id=row.pk)
    left = Archive.objects.get()
    assert (left.why, left.digest) == ("", fingerprint)
    assert len(fingerprint) == 64
