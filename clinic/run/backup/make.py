"""Making a backup: one state of the database, dumped and counted in the same instant, under one name when it is whole.

The dump and the counting look through one exported snapshot, so that whoever writes meanwhile is in both or in neither.
"""

from __future__ import annotations

import os
from dataclasses import dataclass
from datetime import UTC, datetime
from importlib.metadata import PackageNotFoundError, version
from pathlib import Path

import psycopg
from django.conf import settings

from clinic.ledger import keys
from clinic.ledger.keys import NoKeys
from clinic.run.backup import facts, manifest, tools
from clinic.run.backup.manifest import DUMP, Manifest
from clinic.run.backup.tools import Failed
from clinic.run.progress import Progress

NAME = "clinic-{0:%Y%m%dT%H%M%SZ}"
_NEWEST = "SELECT size, note FROM clinic_checkpoint ORDER BY number DESC LIMIT 1"


@dataclass(frozen=True, slots=True)
class Made:
    """A backup that is whole. `removed`: older ones that went."""

    path: Path
    manifest: Manifest
    removed: tuple[str, ...]


def make(folder: Path, at: datetime, *, kept: int) -> Made:
    """Make one in `folder`, and remove the oldest beyond `kept`. Failed, with a sentence, and nothing half done."""
    address = tools.owners_address()
    try:
        folder.mkdir(parents=True, exist_ok=True, mode=0o700)
    except OSError as fault:
        raise Failed(f"The folder {folder} cannot be made: {fault.strerror}.") from None
    path = folder / f"{NAME.format(at.astimezone(UTC))}{DUMP}"
    if path.exists():
        raise Failed(f"{path.name} is there already: wait a second.")
    partial = path.with_suffix(".part")
    try:
        said = _dumped(address, partial, at)
        with partial.open("rb") as file:
            os.fsync(file.fileno())
        manifest.write(said, manifest.beside(path))
        partial.replace(path)
    except OSError as fault:
        raise Failed(f"The backup could not be written: {fault.strerror}. See how much room {folder} has.") from None
    finally:
        partial.unlink(missing_ok=True)
    return Made(path, said, _pruned(folder, kept, said.origin))


def _dumped(address: str, partial: Path, at: datetime) -> Manifest:
    try:
        with psycopg.connect(address) as connection:
            connection.execute("SET TRANSACTION ISOLATION LEVEL REPEATABLE READ, READ ONLY")
            snapshot = connection.execute("SELECT pg_export_snapshot()").fetchone()
            held = facts.facts(connection, "Counting")
            newest = connection.execute(_NEWEST).fetchone() or (0, "")
            server = tools.server_version(connection)
            _dump(address, partial, str(snapshot[0]) if snapshot else "", server)
    except psycopg.Error as fault:
        raise Failed(f"The database did not answer as it should: {str(fault).splitlines()[0]}") from None
    said = Manifest(
        format=manifest.FORMAT,
        clinic=settings.CLINIC_NAME,
        origin=origin(),
        made_at=at.astimezone(UTC).isoformat(),
        server=f"PostgreSQL {server}",
        programme=_programme(),
        database=tools.database_of(address),
        size=partial.stat().st_size,
        sha256=manifest.digest(partial, "Checksum"),
        leaves=int(newest[0]),
        checkpoint=str(newest[1]),
        facts=held,
    )
    return manifest.marked(said)


def _dump(address: str, partial: Path, snapshot: str, server: int) -> None:
    os.close(
        os.open(partial, os.O_WRONLY | os.O_CREAT | os.O_TRUNC, 0o600)
    )  # nobody else's to read from the first byte
    progress = Progress("Dumping", 1)
    dump = tools.programme("pg_dump", server)
    tools.run(
        [dump, "--format=custom", "--no-password", f"--file={partial}", f"--snapshot={snapshot}"],
        address,
        progress,
        lambda: f"{partial.stat().st_size / 1_048_576:.0f} MB",
    )
    progress.end(f"{partial.stat().st_size / 1_048_576:.1f} MB")


def origin() -> str:
    """The ledger's name, which is this clinic's; empty where there are no keys here."""
    try:
        return keys.ring().origin
    except NoKeys:
        return ""


def _programme() -> str:
    try:
        return version("clinic")
    except PackageNotFoundError:  # run from its folder
        return "from its folder"


def _pruned(folder: Path, kept: int, ours: str) -> tuple[str, ...]:
    """Remove the oldest beyond so many, and only what this clinic's backup has made here."""
    found = sorted(path for path in folder.glob(f"clinic-*{DUMP}") if _is_ours(path, ours))
    old = found[:-kept] if kept > 0 else []
    for path in old:
        path.unlink()
        manifest.beside(path).unlink(missing_ok=True)
    return tuple(path.name for path in old)


def _is_ours(path: Path, ours: str) -> bool:
    try:
        return manifest.read(path).origin == ours
    except Failed:
        return False
