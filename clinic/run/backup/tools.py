"""The database server's own programmes, and the owner's address."""

from __future__ import annotations

import os
import re
import shutil
import subprocess
import sys
import time
from collections.abc import Callable, Sequence
from contextlib import suppress
from pathlib import Path
from urllib.parse import urlsplit, urlunsplit

import psycopg
from psycopg.conninfo import conninfo_to_dict

from clinic.run.places import Unusable, postgres_programmes
from clinic.run.progress import EVERY, Progress

OWNERS_ADDRESS = "MIGRATE_DATABASE_URL"


class Failed(Exception):
    """It could not be done; the message is a plain sentence that says what to do."""


def owners_address() -> str:
    """The address of the database for the role that owns the tables."""
    address = os.environ.get(OWNERS_ADDRESS, "")
    if not address:
        raise Failed(
            f"{OWNERS_ADDRESS} is not set: give the address of the database for clinic_owner, who alone can read and "
            "make everything. Only for this command, never for web, worker or scheduler."
        )
    return address


def beside(address: str, database: str) -> str:
    """The same server and role, another database."""
    return urlunsplit(urlsplit(address)._replace(path=f"/{database}"))


def database_of(address: str) -> str:
    """The name of the database in an address."""
    return str(conninfo_to_dict(address).get("dbname", ""))


def programme(name: str, server: int) -> Path:
    """`pg_dump` or `pg_restore` of the server's own version or a newer one; an older one would refuse."""
    found = [Path(one) for one in [shutil.which(name)] if one]
    with suppress(Unusable):  # a server of its own brings its own programmes
        found.append(postgres_programmes() / name)
    for path in found:
        if path.exists() and _version(path) >= server:
            return path
    raise Failed(f"There is no {name} of version {server} or newer here: install PostgreSQL's client programmes.")


def _version(path: Path) -> int:
    said = subprocess.run([path, "--version"], capture_output=True, text=True, check=False).stdout
    number = re.search(r"\d+", said)
    return int(number.group()) if number else 0


def server_version(connection: psycopg.Connection) -> int:
    """The server's main version."""
    return connection.info.server_version // 10_000


def run(command: Sequence[str | Path], address: str, progress: Progress, said: Callable[[], str]) -> None:
    """Run one of the server's programmes against an address, showing how far it is; Failed with its own last words.

    The password goes by the environment: arguments can be read by everybody on the machine.
    """
    parts = conninfo_to_dict(address)
    surroundings = os.environ | {"PGPASSWORD": str(parts.pop("password", "") or "")}
    words = [*map(str, command), f"--dbname={psycopg.conninfo.make_conninfo('', **parts)}"]
    process = subprocess.Popen(words, env=surroundings, stdout=subprocess.DEVNULL, stderr=subprocess.PIPE, text=True)
    every = 0.5 if sys.stdout.isatty() else EVERY
    shown = time.monotonic()
    try:
        while process.poll() is None:
            if time.monotonic() - shown >= every:
                shown = time.monotonic()
                progress.note(said())
            time.sleep(0.1)
    finally:
        process.kill()  # does nothing to one that has ended
    fault = process.communicate()[1].strip()
    if process.returncode:
        last = fault.splitlines()[-1] if fault else f"exit status {process.returncode}"
        raise Failed(f"{Path(command[0]).name} did not go through: {last}")
