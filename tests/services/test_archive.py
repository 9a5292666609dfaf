"""A person's whole record as one file: everything is in it, it proves itself, and it goes back in."""

from __future__ import annotations

import csv
import hashlib
import io
import json
import os
import zipfile
from pathlib import Path
from typing import Any

import psycopg
import pytest
import rfc8785
from django.core.management import call_command
from django.core.management.base import CommandError
from django.db import connection
from psycopg import sql

from caseload.models import Person, Weight
from caseload.prosthesis.services import fit_component, register_prosthesis
from caseload.request.services import ask_adjustment
from caseload.visit.models import Visit
from checklists.keeping import giving, handlers
from checklists.keeping.asking import answer_correction, ask_correction
from checklists.models import Archive, ArchiveFile, Head
from checklists.record.importing import import_lines
from clinic.audit.models import TrailRow
from clinic.errors import Conflict, Denied, Invalid, NotFound
from clinic.outbox.drain import drain
from clinic.staff.models import Staff
from tests.makers import (
    a_fall,
    a_lead,
    a_person,
    a_prosthetist,
    a_records_officer,
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
NOTE = "=cmd|' /C calc'!A0"  # what a spreadsheet must not run


def a_whole_person() -> Any:
    """Somebody with one of everything."""
    therapist, bench = a_therapist(name="Imke Varga"), a_prosthetist()
    person = a_person(given_name="Robin", family_name="Ashdown", address="1 <Mill> Lane", next_of_kin="A. Daughter")
    episode = an_episode(assigned_to=therapist, person=person)
    first = an_attempt(at=ago(hours=3), note=NOTE)
    recorded(therapist, episode, first, an_attempt(support="bars_one", at=ago(hours=2)), a_fall(injury="very"))
    recorded(therapist, episode, an_attempt(at=ago(days=9)))  # held: older than seven days
    recorded(therapist, episode, an_entry("struck_out", entry=first["id"], reason="the other bar"))
    asked = ask_correction(actor=therapist, episode_id=episode.pk, text="Not I.", asked_by="Robin", target=first["id"])
    answer_correction(
        actor=a_lead(), episode_id=episode.pk, request_id=asked.entry, answer="declined", reason="It was."
    )
    device = register_prosthesis(actor=bench, episode_id=episode.pk, side="left", label="Left")
    fit_component(actor=bench, prosthesis_id=device.pk, kind="foot", description="A foot", serial="F-1")
    ask_adjustment(actor=therapist, episode_id=episode.pk, setting="resistance", text="softer")
    Visit.objects.create(episode=episode, site=episode.site, staff=therapist, starts_at=now(), minutes=45)
    Weight.objects.create(person=person, kg="71.5", measured_on=now().date())
    return person, episode, first


def taken(person: Person, officer: Staff | None = None) -> giving.Taken:
    """Asked for, made by the worker, taken."""
    officer = officer or a_records_officer()
    row = giving.ask_archive(actor=officer, person_id=person.pk, why="asked by the person on 3 March")
    drain()
    return giving.take_archive(actor=officer, archive_id=row.pk)


def opened(content: bytes) -> zipfile.ZipFile:
    return zipfile.ZipFile(io.BytesIO(content))


def test_everything_about_the_person_is_in_it() -> None:
    person, episode, first = a_whole_person()
    with opened(taken(person).content) as file:
        rows = {name: json.loads(file.read(name)) for name in file.namelist() if name.endswith(".json")}
        lines = [json.loads(line) for line in file.read(f"record/{episode.reference}.jsonl").splitlines()]
    assert rows["person/person.json"][0]["address"] == "1 <Mill> Lane"
    kinds = ["episode_opened", "attempt", "attempt", "struck_out", "correction_requested", "correction_answered"]
    assert [line["kind"] for line in lines] == kinds
    assert lines[1]["id"] == first["id"]
    counts = {name.rpartition("/")[2][:-5]: len(found) for name, found in rows.items() if isinstance(found, list)}
    once = ("weights", "episodes", "assignments", "visits", "requests", "prostheses", "components", "refused", "held")
    assert {name: counts[name] for name in once} == dict.fromkeys(once, 1)
    assert counts["reception"] == 6
    assert counts["alerts"] >= 1
    assert counts["steps"] >= counts["alerts"]
    assert counts["trail"] >= 6
    assert "Imke Varga" in {row["name"] for row in rows["staff.json"]}


def test_the_manifest_names_every_file_with_its_fingerprint() -> None:
    person, _, _ = a_whole_person()
    got = taken(person)
    assert hashlib.sha256(got.content).hexdigest() == got.digest == Archive.objects.get().digest
    with opened(got.content) as file:
        manifest = json.loads(file.read("manifest.json"))
        said = {one["name"]: one["sha256"] for one in manifest["files"]}
        assert set(said) == set(file.namelist()) - {"manifest.json"}
        for name, digest in said.items():
            assert hashlib.sha256(file.read(name)).hexdigest() == digest, name


def test_the_salts_prove_what_each_entry_says() -> None:
    person, episode, _ = a_whole_person()
    with opened(taken(person).content) as file:
        salts = {one["entry"]: one["salt"] for one in json.loads(file.read(f"record/{episode.reference}.salts.json"))}
        commitments = {one["id"]: one["commitment"] for one in json.loads(file.read("record/reception.json"))}
        lines = [json.loads(line) for line in file.read(f"record/{episode.reference}.jsonl").splitlines()]
    assert len(lines) == len(salts) == len(commitments)
    for line in lines:
        body = bytes.fromhex(salts[line["id"]]) + rfc8785.dumps(line)
        assert hashlib.sha256(body).hexdigest() == commitments[line["id"]]


def test_a_spreadsheet_runs_nothing_of_it() -> None:
    person, _, _ = a_whole_person()
    Person.objects.filter(pk=person.pk).update(next_of_kin=NOTE)
    with opened(taken(person).content) as file:
        (row,) = csv.DictReader(io.StringIO(file.read("person/person.csv").decode()))
    assert row["next_of_kin"] == f"'{NOTE}"


def test_the_page_reads_without_a_server_and_markup_is_text() -> None:
    person, _, _ = a_whole_person()
    with opened(taken(person).content) as file:
        page = file.read("index.html").decode()
    for said in (
        "Robin Ashdown",
        "1 &lt;Mill&gt; Lane",
        "Struck out: the other bar",
        "Correction asked for",
        "Not I.",
        "Declined: It was.",
        "Imke Varga",
        "Refused",
        "no medical advice",
    ):
        assert said in page, said
    for outside in ("<script", "src=", "http://", "https://", "<link"):
        assert outside not in page, outside


def test_it_goes_back_in_and_comes_to_the_same_statuses() -> None:
    person, episode, _ = a_whole_person()
    imported(a_lead(), episode, *[an_attempt("stand_load", at=ago(days=n), by=a_therapist()) for n in (3, 2, 1)])
    before = Head.objects.get(pk=episode.pk).board["skills"]
    with opened(taken(person).content) as file:
        lines = file.read(f"record/{episode.reference}.jsonl").splitlines()
        statuses = json.loads(file.read("record/statuses.json"))[episode.reference]
    assert statuses == {key: said["status"] for key, said in before.items()}
    _elsewhere(lines)
    after = Head.objects.get(episode__reference=episode.reference).board["skills"]
    assert {key: said["status"] for key, said in after.items()} == statuses


def _elsewhere(lines: list[bytes]) -> None:
    """Another server: the same staff and an empty episode of this reference, and the lines taken in there."""
    with psycopg.connect(os.environ["TEST_SUPERUSER_URL"], dbname=str(connection.settings_dict["NAME"])) as behind:
        behind.execute("SET session_replication_role = replica")
        for table in ("checklists_entrycontent", "checklists_entry", "checklists_alertstep", "checklists_alert"):
            behind.execute(sql.SQL("DELETE FROM {}").format(sql.Identifier(table)))
        behind.execute("DELETE FROM checklists_deadline")
        behind.execute("UPDATE checklists_head SET snapshot = '', board = '{}', entries = 0, last_at = NULL")
    reports = [report for batch in import_lines(a_lead(), lines) for report in batch]
    assert {report.outcome for report in reports} == {"accepted"}, reports


def test_it_is_for_the_records_officer_and_for_who_asked() -> None:
    person, _, _ = a_whole_person()
    for actor in (a_lead(), a_therapist()):
        with pytest.raises((Denied, NotFound)):
            giving.ask_archive(actor=actor, person_id=person.pk, why="x")
    officer = a_records_officer()
    with pytest.raises(Invalid):
        giving.ask_archive(actor=officer, person_id=person.pk, why=" ")
    row = giving.ask_archive(actor=officer, person_id=person.pk, why="the person asked")
    drain()
    with pytest.raises(Conflict, match="Somebody else asked"):
        giving.take_archive(actor=a_records_officer(), archive_id=row.pk)
    assert ArchiveFile.objects.filter(pk=row.pk).exists()


def test_it_is_handed_out_once_and_leaves_its_row() -> None:
    person, _, _ = a_whole_person()
    officer = a_records_officer()
    row = giving.ask_archive(actor=officer, person_id=person.pk, why="the person asked")
    with pytest.raises(Conflict, match="being made"):
        giving.take_archive(actor=officer, archive_id=row.pk)
    drain()
    giving.take_archive(actor=officer, archive_id=row.pk)
    with pytest.raises(Conflict, match="taken already"):
        giving.take_archive(actor=officer, archive_id=row.pk)
    assert not ArchiveFile.objects.exists()
    verbs = TrailRow.objects.filter(subject_id__in=[str(row.pk), str(person.pk)]).values_list("verb", flat=True)
    assert {"archive.asked", "archive.made", "person.exported"} <= set(verbs)


def test_made_twice_by_two_workers_it_is_one_and_its_progress_is_seen() -> None:
    person, _, _ = a_whole_person()
    row = giving.ask_archive(actor=a_records_officer(), person_id=person.pk, why="the person asked")
    giving.make_asked(row.pk, now())
    giving.make_asked(row.pk, now())
    row.refresh_from_db()
    assert (row.step, row.done) == ("done", row.total)
    assert ArchiveFile.objects.count() == 1
    assert TrailRow.objects.filter(verb="archive.made").count() == 1


def test_what_nobody_takes_goes_after_a_day(settings: Any, tmp_path: Path) -> None:
    settings.ERASURES_FILE = str(tmp_path / "erasures.jsonl")
    person, _, _ = a_whole_person()
    giving.ask_archive(actor=a_records_officer(), person_id=person.pk, why="the person asked")
    drain()
    assert handlers.keep_house(now()) == 0
    Archive.objects.update(made_at=ago(hours=25))
    assert handlers.keep_house(now()) == 1
    assert not ArchiveFile.objects.exists()
    assert Archive.objects.get().dropped_at is not None


def test_the_command_does_the_same(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    person, episode, _ = a_whole_person()
    path = tmp_path / "out.zip"
    call_command("export_person", person.number, str(path), "--as", a_records_officer().username)
    with zipfile.ZipFile(path) as file:
        assert f"record/{episode.reference}.jsonl" in file.namelist()
    assert hashlib.sha256(path.read_bytes()).hexdigest() in capsys.readouterr().err
    assert path.stat().st_mode & 0o077 == 0
    assert TrailRow.objects.filter(verb="person.exported", subject_id=str(person.pk)).count() == 1
    with pytest.raises(CommandError, match="cannot be written"):
        call_command("export_person", person.number, str(path))
    with pytest.raises(CommandError, match="Nobody has this number"):
        call_command("export_person", "AR-0", str(tmp_path / "no.zip"))
    assert not (tmp_path / "no.zip").exists()
