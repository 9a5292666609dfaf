"""The one function by which content goes, and the list that keeps restored backups from bringing it back."""

from __future__ import annotations

import json
import os
from pathlib import Path
from typing import Any
from uuid import UUID, uuid4

import psycopg
import pytest
from django.core.management import call_command
from django.core.management.base import CommandError
from django.db import InternalError, ProgrammingError, connection, transaction
from psycopg import sql

from caseload.models import Person
from caseload.person.erased import Gone
from checklists.keeping import erase_sql, erased_list, giving
from checklists.keeping.archive import file
from checklists.keeping.models import Erasure, ErasureDecision
from checklists.keeping.services import place_hold
from checklists.keeping.steps import erase
from checklists.models import Archive, ArchiveFile, Entry, EntryContent
from clinic.audit import trail
from clinic.audit.models import TrailRow
from tests.makers import (
    a_lead,
    a_person,
    a_records_officer,
    an_episode,
    now,
)
from tests.services.erasure_scene import an_ended_episode, asked, done

pytestmark = [pytest.mark.django_db(transaction=True), pytest.mark.usefixtures("erasing_here")]


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


def test_an_archive_that_was_being_made_meanwhile_is_not_put_down_after_it(monkeypatch: pytest.MonkeyPatch) -> None:
    episode, officer = an_ended_episode(), a_records_officer()
    row = giving.ask_archive(actor=officer, person_id=episode.person_id, why="for Robin")

    def made_meanwhile(*given: Any, **more: Any) -> Any:
        made = file.make(*given, **more)
        done(episode)
        return made

    monkeypatch.setattr(giving, "make", made_meanwhile)
    giving.make_asked(row.pk, now())
    assert not ArchiveFile.objects.exists()
