"""Restoring a backup: into a database that is made for the occasion, to prove it, or into a new one on the real day.

Never over rows that are there. What is proven: the file is whole and this clinic's; rows, policies, triggers, functions
and rights are as they were; every episode replays to what was stored; the ledger verifies.
"""

from __future__ import annotations

import os
import secrets
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path

import psycopg
from django.conf import settings
from psycopg import sql

from clinic.ledger import keys, note
from clinic.ledger.keys import NoKeys
from clinic.ledger.memory import END
from clinic.ledger.note import NotGenuine
from clinic.run.backup import facts, manifest, tools
from clinic.run.backup.make import origin
from clinic.run.backup.manifest import Manifest
from clinic.run.backup.tools import Failed
from clinic.run.places import ROOT
from clinic.run.progress import Progress, say

REPLAY, VERIFY, ERASE = "check_replay", "verify_ledger", "reapply_erasures"
_OURS = ("clinic_", "caseload_", "checklists_")
_SESSIONS = ("django_session", "knox_authtoken")  # of the day of the backup: nobody comes in by one of them


@dataclass(slots=True)
class Report:
    """What was found, in sentences. `faults`: what is wrong; none, and the backup is good. `unseen`: what was not
    looked at, and why."""

    good: list[str] = field(default_factory=list)
    faults: list[str] = field(default_factory=list)
    unseen: list[str] = field(default_factory=list)

    def add(self, fault: str, good: str) -> None:
        """One thing looked at: the fault, or what is good where there is none."""
        (self.faults if fault else self.good).append(fault or good)


def check(dump: Path, *, unmarked: bool = False) -> Report:
    """Restore into a database of its own, look at everything, and drop it again. Failed where that cannot begin.

    `unmarked`: also where its manifest bears no mark of a key here; somebody vouches for the file.
    """
    said, report = _whole(dump, unmarked), Report()
    _own_up(report, said)
    report.good.append(f"The file is whole, and of {said.clinic}: made {said.at:%d %b %Y, %H:%M} UTC.")
    owner = tools.owners_address()
    name = f"clinic_check_{secrets.token_hex(5)}"
    with _made(owner, name):
        try:
            _fill(dump, tools.beside(owner, name))
        except Failed as fault:
            report.faults.append(str(fault))
            return report
        _look(report, said, owner, name)
    return report


def into(dump: Path, name: str, *, unmarked: bool = False) -> Report:
    """Restore into a database of this name for good; it must not be there yet, or have no row of ours.

    Where anything is not as it was, the database stays, for somebody to look at, and the report says so. Sessions and
    tokens of that day are ended, and what was erased since is erased again.
    """
    said, report = _whole(dump, unmarked), Report()
    _own_up(report, said)
    owner = tools.owners_address()
    with _superior(owner) as connection:
        _drop_if_empty(connection, owner, name)
        _create(connection, name)
    _fill(dump, tools.beside(owner, name))
    _look(report, said, owner, name)
    with psycopg.connect(tools.beside(owner, name)) as connection:
        for table in _SESSIONS:
            connection.execute(sql.SQL("DELETE FROM {}").format(sql.Identifier(table)))
    report.good.append("Sessions and tokens of that day are ended: everybody signs in again.")
    report.add(
        _told(ERASE, name, "What was erased since could not be erased again"), "What was erased since is erased."
    )
    return report


def _own_up(report: Report, said: Manifest) -> None:
    if not manifest.genuine(said):
        report.unseen.append("Who made this backup: its manifest bears no mark of a key here, and you vouch for it.")


def _whole(dump: Path, unmarked: bool) -> Manifest:
    """The manifest of a file that is whole and this clinic's."""
    said = manifest.read(dump)
    if dump.stat().st_size != said.size or manifest.digest(dump, "Checksum") != said.sha256:
        raise Failed(
            f"{dump.name} is damaged: it is not the file that was written. Take another backup; keep this one."
        )
    ours = origin()
    if not ours:
        raise Failed("There are no ledger keys here: put them back into LEDGER_KEYS first; a backup holds none.")
    if said.origin != ours:
        raise Failed(
            f"{dump.name} is a backup of {said.origin or 'a clinic without keys'}; the keys here are {ours}'s."
        )
    _seen_genuine(dump, said, unmarked)
    if said.checkpoint:
        try:
            note.opened(said.checkpoint, keys.ring())
        except (NotGenuine, NoKeys) as fault:
            raise Failed(f"{dump.name} is not of this clinic, or its keys are not here: {fault}") from None
    return said


def _seen_genuine(dump: Path, said: Manifest, unmarked: bool) -> None:
    """Failed where nobody who holds our keys made it: what is restored runs as the owner of the tables."""
    try:
        genuine = manifest.genuine(said)
    except (NoKeys, ValueError) as fault:
        raise Failed(f"The mark of {dump.name} cannot be looked at: {fault}") from None
    if not (genuine or unmarked):
        raise Failed(
            f"{dump.name} is not restored: its manifest bears {'a wrong' if said.mac else 'no'} mark, so it was "
            "changed, or made with MAC keys that are not here or are closed (--unmarked, if it never left your hands)."
        )


@contextmanager
def _superior(address: str) -> Iterator[psycopg.Connection]:
    """Whoever may make databases: the owner of the tables, where the server lets them."""
    try:
        with psycopg.connect(tools.beside(address, "postgres"), autocommit=True) as connection:
            yield connection
    except psycopg.errors.InsufficientPrivilege:
        raise Failed(
            "clinic_owner may not make a database: as the database's superuser, ALTER ROLE clinic_owner CREATEDB."
        ) from None
    except psycopg.Error as fault:
        raise Failed(f"The database server refused: {str(fault).splitlines()[0]}") from None


@contextmanager
def _made(owner: str, name: str) -> Iterator[None]:
    """A database for the time of the block."""
    with _superior(owner) as connection:
        _create(connection, name)
    try:
        yield
    finally:
        with _superior(owner) as connection:
            _drop(connection, name)


def _drop(connection: psycopg.Connection, name: str) -> None:
    """With whatever is still connected to it. FORCE is refused while a worker of autovacuum, who counts as the
    superuser, is in the database; a plain DROP sends that worker away, and no session of ours."""
    try:
        connection.execute(sql.SQL("DROP DATABASE IF EXISTS {} WITH (FORCE)").format(sql.Identifier(name)))
    except psycopg.errors.InsufficientPrivilege:
        ours = "SELECT pg_terminate_backend(pid) FROM pg_stat_activity WHERE datname = %s AND usename = current_user"
        connection.execute(ours, [name])
        connection.execute(sql.SQL("DROP DATABASE IF EXISTS {}").format(sql.Identifier(name)))


def _create(connection: psycopg.Connection, name: str) -> None:
    """From template0: in template1 stand rights for every new table, which would come on top of those in the dump, and
    with them the programme could take back rows of append-only tables."""
    connection.execute(sql.SQL("CREATE DATABASE {} TEMPLATE template0").format(sql.Identifier(name)))


def _drop_if_empty(connection: psycopg.Connection, owner: str, name: str) -> None:
    """Make room for a database of this name; Failed where there is one with rows."""
    if not connection.execute("SELECT 1 FROM pg_database WHERE datname = %s", [name]).fetchone():
        return
    with psycopg.connect(tools.beside(owner, name)) as there:
        tables = [str(one) for (one,) in there.execute("SELECT tablename FROM pg_tables WHERE schemaname = 'public'")]
        for table in tables:
            filled = sql.SQL("SELECT 1 FROM {} LIMIT 1").format(sql.Identifier(table))
            if table.startswith(_OURS) and there.execute(filled).fetchone():
                raise Failed(f"The database {name} has rows ({table}): nothing is restored over it. Name another.")
    connection.execute(sql.SQL("DROP DATABASE {}").format(sql.Identifier(name)))


def _fill(dump: Path, address: str) -> None:
    progress = Progress("Restoring", 1)
    with psycopg.connect(address) as connection:
        server = tools.server_version(connection)
    restore = tools.programme("pg_restore", server)
    tools.run([restore, "--exit-on-error", "--no-password", dump], address, progress, lambda: "…")
    progress.end("done")


def _look(report: Report, said: Manifest, owner: str, name: str) -> None:
    """Everything that a restored database must show."""
    with psycopg.connect(tools.beside(owner, name)) as connection:
        found = facts.differences(said.facts, facts.facts(connection, "Comparing"))
    report.faults += found
    if not found:
        held = said.facts
        report.good.append(
            f"{said.rows:,} rows in {len(held['rows'])} tables, {len(held['policies'])} policies, "
            f"{len(held['triggers'])} triggers, {len(held['functions'])} functions, both roles and all rights are as "
            "they were."
        )
        report.add(_told(REPLAY, name, "The replay differs"), "Every episode replays to what was stored.")
        _verify(report, said, name)
    else:
        report.unseen.append("Record and ledger: first the database must be whole.")


def _verify(report: Report, said: Manifest, name: str) -> None:
    """The ledger, verified up to the newest checkpoint of the backup, which is all that it can know."""
    with tempfile.TemporaryDirectory() as folder:
        checkpoints = Path(folder) / "checkpoints.txt"
        checkpoints.write_text(f"{said.checkpoint}{END[1:]}" if said.checkpoint else "")
        alone = {"LEDGER_CHECKPOINT_FILE": str(checkpoints), "LEDGER_WITNESSES": ""}
        fault = _told(VERIFY, name, "The ledger does not verify", alone)
    report.add(fault, f"The ledger verifies, up to its checkpoint of {said.leaves:,} leaves.")


def _told(command: str, name: str, fault: str, more: dict[str, str] | None = None) -> str:
    """Run one of our commands against the restored database; what it said where it failed."""
    say(f"{command} …")
    surroundings = os.environ | {
        "DATABASE_URL": tools.beside(os.environ["DATABASE_URL"], name),
        tools.OWNERS_ADDRESS: tools.beside(tools.owners_address(), name),
        "LEDGER_KEYS": settings.LEDGER_KEYS,
        "CLINIC_DEMO": "yes" if settings.DEMO else "no",
    }
    words = [sys.executable, str(ROOT / "manage.py"), command, "--skip-checks"]  # `restore` has checked the program
    answer = subprocess.run(words, env=surroundings | (more or {}), capture_output=True, text=True, check=False)
    said = [line for line in f"{answer.stdout}{answer.stderr}".splitlines() if line.strip()]
    for line in said[-5:]:
        say(f"  {line}")
    return "" if answer.returncode == 0 else f"{fault}: {' '.join(said[-3:])}"
