"""Backups are proven by restoring them: real dumps, real restores; damaged, somebody else's and incomplete ones."""

from __future__ import annotations

import json
import os
import subprocess
from collections.abc import Callable
from io import StringIO
from pathlib import Path
from typing import Any, cast
from urllib.parse import urlsplit, urlunsplit

import psycopg
import pytest
from django.core.management import CommandError, call_command
from django.db import connection
from psycopg import sql

from clinic.ledger.seal import seal
from clinic.models import Beat, TrailRow
from clinic.run.backup import facts, make, manifest, restore, tools
from clinic.run.backup.restore import check
from clinic.run.backup.tools import Failed
from tests.makers import a_check, a_fall, a_therapist, ago, an_attempt, an_episode, now, recorded

pytestmark = [pytest.mark.django_db(transaction=True), pytest.mark.slow, pytest.mark.timeout(300)]


def of_the_test(address: str) -> str:
    return urlunsplit(urlsplit(address)._replace(path=f"/{connection.settings_dict['NAME']}"))


@pytest.fixture
def owner(monkeypatch: pytest.MonkeyPatch, settings: Any, tmp_path_factory: pytest.TempPathFactory) -> str:
    """The owner's address, in the environment as a backup needs it; and a ledger that begins here."""
    settings.LEDGER_CHECKPOINT_FILE = str(tmp_path_factory.mktemp("ledger") / "checkpoints.txt")
    address = of_the_test(os.environ["TEST_OWNER_URL"])
    monkeypatch.setenv(tools.OWNERS_ADDRESS, address)
    monkeypatch.setenv("DATABASE_URL", of_the_test(os.environ["DATABASE_URL"]))
    return address


@pytest.fixture
def dump(owner: str, tmp_path: Path) -> Path:
    """A backup of a small clinic: a few facts, an alert, sealed."""
    therapist = a_therapist()
    for _ in range(2):
        episode = an_episode(assigned_to=therapist)
        recorded(therapist, episode, a_check(at=ago(minutes=5)), an_attempt(help="alone"), a_fall(at=ago(days=1)))
    seal(now())
    call_command("backup", to=tmp_path, stdout=StringIO())
    (path,) = tmp_path.glob("*.dump")
    return path


def databases() -> set[str]:
    with psycopg.connect(os.environ["TEST_SUPERUSER_URL"]) as other:
        return {name for (name,) in other.execute("SELECT datname FROM pg_database")}


def rewritten(dump: Path, **changed: object) -> Path:
    """The manifest says something else: as whoever changes a backup and holds its keys would see to it."""
    path = manifest.beside(dump)
    said = json.loads(path.read_text()) | changed
    said |= {"sha256": manifest.digest(dump, "…"), "size": dump.stat().st_size}
    manifest.write(manifest.marked(manifest.Manifest(**said)), path)
    return dump


def dumped_again(dump: Path, owner: str, *more: str) -> Path:
    """The dump is another one of the same database, the manifest goes with it."""
    parts = psycopg.conninfo.conninfo_to_dict(owner)
    command = [str(tools.programme("pg_dump", 18)), "--format=custom", f"--file={dump}", *more]
    address = psycopg.conninfo.make_conninfo("", **{name: v for name, v in parts.items() if name != "password"})
    subprocess.run([*command, address], env=os.environ | {"PGPASSWORD": str(parts["password"])}, check=True)
    return rewritten(dump)


def test_a_backup_is_restored_replayed_and_dropped_again(dump: Path) -> None:
    before, said = databases(), StringIO()
    call_command("restore", "--check", str(dump), stdout=said)
    assert f"{dump.name} is good." in said.getvalue()
    assert "Every episode replays" in said.getvalue()
    assert "The ledger verifies, up to its checkpoint of" in said.getvalue()
    assert databases() == before
    assert Beat.objects.get(name="restore").detail["file"] == dump.name
    assert set(TrailRow.objects.filter(subject="backup").values_list("verb", flat=True)) == {
        "backup.made",
        "backup.proven",
    }


def test_the_manifest_tells_what_is_in_it_and_that_the_keys_are_not(dump: Path) -> None:
    said = manifest.read(dump)
    assert said.rows == sum(said.facts["rows"].values()) > 50
    assert said.facts["rows"]["checklists_entry"] == 8
    assert said.leaves > 0
    assert f"\n{said.leaves}\n" in said.checkpoint
    assert "keys are not in this backup" in said.keys.replace(
        "'s keys, the file of checkpoints, the list of erasures and SECRET_KEY", " keys"
    )
    whole = dump.read_bytes() + manifest.beside(dump).read_bytes()
    for folder in ("mac", "seal"):
        for key in (Path(os.environ["LEDGER_KEYS"]) / folder).iterdir():
            assert key.read_bytes().strip() not in whole
    assert dump.stat().st_mode & 0o077 == 0
    assert manifest.beside(dump).stat().st_mode & 0o077 == 0


def test_what_is_written_while_the_backup_is_made_is_in_counts_and_dump_or_in_neither(
    owner: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    therapist = a_therapist()
    episode = an_episode(assigned_to=therapist)
    real = make._dump

    def with_somebody_writing(*args: object) -> None:
        recorded(therapist, episode, an_attempt())
        real(*args)  # type: ignore[arg-type]  # passed on as it came

    monkeypatch.setattr(make, "_dump", with_somebody_writing)
    made = make.make(tmp_path, now(), kept=0)
    assert made.manifest.facts["rows"]["checklists_entry"] == 1
    assert check(made.path).faults == []


@pytest.mark.parametrize(
    ("spoil", "said"),
    [
        (lambda raw: raw[: len(raw) // 2], "is damaged"),
        (lambda raw: raw[:-500] + b"x" + raw[-499:], "is damaged"),
        (lambda raw: b"", "is damaged"),
    ],
)
def test_a_damaged_file_is_not_even_restored(dump: Path, spoil: Callable[[bytes], bytes], said: str) -> None:
    dump.write_bytes(spoil(dump.read_bytes()))
    before = databases()
    with pytest.raises(CommandError, match=said):
        call_command("restore", "--check", str(dump))
    assert databases() == before


def test_a_file_that_is_damaged_and_vouched_for_all_the_same_is_found_by_restoring_it(dump: Path) -> None:
    raw = dump.read_bytes()
    dump.write_bytes(raw[: len(raw) * 3 // 4])
    report = check(rewritten(dump))
    assert any("pg_restore did not go through" in one for one in report.faults)
    assert not [name for name in databases() if name.startswith("clinic_check_")]


def test_a_backup_of_another_clinic_is_said_to_be_one(dump: Path) -> None:
    with pytest.raises(Failed, match="is a backup of quay-street"):
        check(rewritten(dump, origin="quay-street.example/ledger"))


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ({"mac": ""}, "no mark"),
        ({"mac": "0" * 64}, "a wrong mark"),
        ({"mac": None}, "no mark"),
        ({"leaves": 0}, "a wrong mark"),
        ({"clinic": "Another"}, "a wrong mark"),
    ],
)
def test_a_manifest_that_nobody_with_our_keys_wrote_is_refused(dump: Path, change: dict[str, Any], said: str) -> None:
    before, path = databases(), manifest.beside(dump)
    path.write_text(json.dumps(json.loads(path.read_text()) | change))
    for way in (["--check"], ["--into", "clinic_never"]):
        with pytest.raises(CommandError, match=f"is not restored: its manifest bears {said}"):
            call_command("restore", *way, str(dump), stdout=StringIO())
    assert databases() == before


def test_a_dump_that_was_exchanged_with_its_digest_is_refused_before_anything_of_it_runs(dump: Path) -> None:
    dump.write_bytes(b"anything")
    path = manifest.beside(dump)
    changed = {"sha256": manifest.digest(dump, "…"), "size": dump.stat().st_size}
    path.write_text(json.dumps(json.loads(path.read_text()) | changed))
    with pytest.raises(Failed, match="a wrong mark"):
        check(dump)


def test_whoever_vouches_for_a_backup_restores_it_without_its_mark_and_is_told_so(dump: Path) -> None:
    path, said = manifest.beside(dump), StringIO()
    path.write_text(json.dumps(json.loads(path.read_text()) | {"mac": ""}))
    call_command("restore", "--check", "--unmarked", str(dump), stdout=said)
    assert "NOT LOOKED AT: Who made this backup" in said.getvalue()
    assert f"{dump.name} is good." in said.getvalue()


def test_a_backup_under_another_clinics_keys_is_found_by_its_signature(dump: Path) -> None:
    said = manifest.read(dump)
    lines = said.checkpoint.splitlines(keepends=True)
    forged = said.checkpoint.replace(lines[1], f"{int(lines[1]) + 1}\n", 1)
    with pytest.raises(Failed, match="is not of this clinic"):
        check(rewritten(dump, checkpoint=forged))


@pytest.mark.parametrize("missing", ["checklists_alertstep", "clinic_ledgergap"])
def test_a_missing_table_is_named(dump: Path, owner: str, missing: str) -> None:
    report = check(dumped_again(dump, owner, f"--exclude-table={missing}"))
    assert f"The table {missing} is missing." in report.faults


def test_rows_that_are_not_in_the_file_are_counted(dump: Path, owner: str) -> None:
    report = check(
        dumped_again(
            dump, owner, "--exclude-table-data=checklists_refusedentry", "--exclude-table-data=checklists_entry*"
        )
    )
    assert any(one.startswith("checklists_entry has 0 rows; it had 8") for one in report.faults) or any(
        "pg_restore did not go through" in one for one in report.faults
    )


@pytest.mark.parametrize(
    ("statement", "said"),
    [
        ("ALTER TABLE checklists_entry DISABLE TRIGGER checklists_entry_rows_stay", "Triggers not as before"),
        ("DROP TRIGGER clinic_trailrow_stays ON clinic_trailrow", "Triggers missing"),
        ("ALTER TABLE caseload_person DISABLE ROW LEVEL SECURITY", "Tables' row security not as before"),
        ("GRANT UPDATE ON checklists_entry TO clinic_app", "Rights not as before"),
        ("CREATE OR REPLACE FUNCTION refuse_change() RETURNS trigger LANGUAGE plpgsql AS 'BEGIN RETURN NEW; END'",
         "Functions not as before"),
    ],
)  # fmt: skip  # a table, read by row
def test_what_protects_the_rows_is_compared_too(owner: str, statement: str, said: str) -> None:
    with psycopg.connect(owner) as there:
        was = facts.facts(there, "…")
        there.execute(statement.encode())
        found = facts.differences(was, facts.facts(there, "…"))
        there.rollback()
    assert any(one.startswith(said) for one in found), found


def test_a_restored_database_gives_the_programme_no_right_that_it_had_not(dump: Path, owner: str) -> None:
    name = "clinic_restored_rights"
    try:
        restore.into(dump, name)
        with psycopg.connect(tools.beside(os.environ["DATABASE_URL"], name)) as there:
            for table in ("checklists_entry", "clinic_trailrow", "clinic_ledgerleaf"):
                with pytest.raises(psycopg.errors.InsufficientPrivilege), there.transaction():
                    there.execute(sql.SQL("DELETE FROM {}").format(sql.Identifier(table)))
    finally:
        with psycopg.connect(os.environ["TEST_SUPERUSER_URL"], autocommit=True) as other:
            other.execute(sql.SQL("DROP DATABASE IF EXISTS {} WITH (FORCE)").format(sql.Identifier(name)))


def test_a_policy_that_is_gone_is_named(owner: str) -> None:
    with psycopg.connect(owner) as there:
        was = facts.facts(there, "…")
        name, table = there.execute("SELECT policyname, tablename FROM pg_policies LIMIT 1").fetchone() or ("", "")
        there.execute(sql.SQL("DROP POLICY {} ON {}").format(sql.Identifier(name), sql.Identifier(table)))
        found = facts.differences(was, facts.facts(there, "…"))
        there.rollback()
    assert found == [f"Policies missing: {table}.{name}."]


def test_a_row_that_was_changed_after_the_fact_is_found_by_the_replay(dump: Path, tmp_path: Path) -> None:
    """The counts agree; the stored alerts do not follow from the record any more."""
    with psycopg.connect(of_the_test(os.environ["TEST_SUPERUSER_URL"])) as there:
        there.execute("SET session_replication_role = replica")
        there.execute("UPDATE checklists_alert SET rule = 'start_check' WHERE rule = 'alone'")
    report = check(make.make(tmp_path / "later", now(), kept=0).path)
    assert any(one.startswith("The replay differs") for one in report.faults), report


def test_a_trail_that_was_changed_behind_the_programme_is_found_by_the_ledger(dump: Path, tmp_path: Path) -> None:
    """Counts and replay agree: nothing but what was sealed knows better."""
    with psycopg.connect(of_the_test(os.environ["TEST_SUPERUSER_URL"])) as there:
        there.execute("SET session_replication_role = replica")
        there.execute("UPDATE clinic_trailrow SET verb = 'nothing.done' WHERE verb = 'entries.recorded'")
    report = check(make.make(tmp_path / "later", now(), kept=0).path)
    assert [one for one in report.faults if one.startswith("The ledger does not verify")], report


def test_a_restore_for_good_goes_into_a_new_database_and_ends_sessions(dump: Path, owner: str) -> None:
    said, name = StringIO(), "clinic_restored"
    try:
        call_command("restore", "--into", name, str(dump), stdout=said)
        with psycopg.connect(tools.beside(owner, name)) as there:
            assert there.execute("SELECT count(*) FROM checklists_entry").fetchone() == (8,)
            assert there.execute("SELECT count(*) FROM django_session").fetchone() == (0,)
        assert f"The database {name} holds the backup." in said.getvalue()
        with pytest.raises(CommandError, match="nothing is restored over it"):
            call_command("restore", "--into", name, str(dump))
    finally:
        with psycopg.connect(os.environ["TEST_SUPERUSER_URL"], autocommit=True) as other:
            other.execute(sql.SQL("DROP DATABASE IF EXISTS {} WITH (FORCE)").format(sql.Identifier(name)))


def test_the_clinics_own_database_is_never_restored_over(dump: Path) -> None:
    with pytest.raises(CommandError, match="has rows"):
        call_command("restore", "--into", str(connection.settings_dict["NAME"]), str(dump))


def test_old_backups_go_by_number_and_nobody_elses(owner: str, tmp_path: Path) -> None:
    a_therapist()
    stranger = tmp_path / "clinic-20200101T000000Z.dump"
    stranger.write_text("not ours")
    made = [make.make(tmp_path, ago(minutes=minutes), kept=2).path.name for minutes in (3, 2, 1)]
    assert sorted(path.name for path in tmp_path.glob("*.dump")) == sorted([stranger.name, *made[1:]])
    assert len(list(tmp_path.glob("*.json"))) == 2


def test_without_the_owners_address_it_says_so(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delenv(tools.OWNERS_ADDRESS, raising=False)
    with pytest.raises(CommandError, match="MIGRATE_DATABASE_URL is not set"):
        call_command("backup", to=tmp_path)
    assert not Beat.objects.filter(name="backup").exists()


def test_a_folder_without_room_leaves_no_half_of_a_backup(
    owner: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def full(*args: object, **more: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(make, "_dump", full)
    with pytest.raises(CommandError, match="No space left"):
        call_command("backup", to=tmp_path)
    assert list(tmp_path.iterdir()) == []
    assert not Beat.objects.filter(name="backup").exists()


def test_the_check_leaves_nothing_behind_when_it_is_interrupted(dump: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def interrupted(*args: object) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr(restore, "_look", interrupted)
    with pytest.raises(KeyboardInterrupt):
        check(dump)
    assert not [name for name in databases() if name.startswith("clinic_check_")]


class _Busy:
    """The server while autovacuum is at work in the database: FORCE is refused."""

    def __init__(self, connection: psycopg.Connection) -> None:
        self._connection = connection

    def execute(self, query: sql.Composed | str, *args: Any) -> None:
        if "FORCE" in (query if isinstance(query, str) else query.as_string(self._connection)):
            raise psycopg.errors.InsufficientPrivilege("permission denied to terminate process")
        self._connection.execute(query, *args)


def test_a_database_in_which_autovacuum_works_is_dropped_all_the_same() -> None:
    name, owner = "clinic_check_busy", os.environ["TEST_OWNER_URL"]
    with psycopg.connect(tools.beside(owner, "postgres"), autocommit=True) as connection:
        connection.execute(sql.SQL("CREATE DATABASE {}").format(sql.Identifier(name)))
        with psycopg.connect(tools.beside(owner, name)):
            restore._drop(cast("psycopg.Connection", _Busy(connection)), name)
    assert name not in databases()
