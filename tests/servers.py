"""A pytest plugin: a real PostgreSQL and a real Valkey for the run.

Their addresses are in the environment before settings load.
Named by `addopts = -p tests.servers`, since a fixture would come too late for the settings. The workers of pytest-xdist
inherit the addresses; each makes its own test database and takes its own two numbered databases in Valkey.
"""

import os
import secrets
import shutil
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest

from clinic.ledger.keys import made_in
from clinic.run.postgres import APP, OWNER, SUPERUSER, Postgres
from clinic.run.secret import kept_in
from clinic.run.valkey import Valkey

PREFIX = "clinic-tests-"
_running: list[Postgres | Valkey] = []
_folder: list[Path] = []


@pytest.hookimpl(tryfirst=True)
def pytest_load_initial_conftests() -> None:
    """Start the servers, unless this is a worker whose controller has."""
    if "TEST_BROKER" not in os.environ:
        _start()
    worker = os.environ.get("PYTEST_XDIST_WORKER", "")
    number = int(worker.removeprefix("gw")) + 1 if worker else 0
    os.environ["BROKER_URL"] = f"{os.environ['TEST_BROKER']}/{2 * number}"
    os.environ["CACHE_URL"] = f"{os.environ['TEST_BROKER']}/{2 * number + 1}"


def pytest_unconfigure() -> None:
    """Stop what this process started."""
    while _running:
        _running.pop().stop()
    while _folder:
        shutil.rmtree(_folder.pop(), ignore_errors=True)


def _open_folder() -> Path:
    folder = Path(tempfile.mkdtemp(prefix=f"{PREFIX}{os.getpid()}-"))
    folder.chmod(0o711)
    return folder


@contextmanager
def open_folder() -> Iterator[Path]:
    """A folder that a server's account can reach. Those that pytest makes are closed to it."""
    folder = _open_folder()
    yield folder
    shutil.rmtree(folder, ignore_errors=True)


def _start() -> None:
    _remove_leftovers()
    folder = _open_folder()
    _folder.append(folder)
    (folder / "static").mkdir()
    passwords = kept_in(folder)
    postgres = Postgres(folder, passwords, durable=False)
    valkey = Valkey(folder, passwords["broker"])
    for server in (postgres, valkey):
        server.start()
        _running.append(server)
    os.environ |= {
        "DATABASE_URL": postgres.url(APP),
        "TEST_OWNER_URL": postgres.url(OWNER),
        "TEST_SUPERUSER_URL": postgres.url(SUPERUSER),
        "TEST_BROKER": valkey.url(0).rsplit("/", 1)[0],
        "SECRET_KEY": secrets.token_urlsafe(32),
        "DATA_DIR": str(folder),
        "LEDGER_KEYS": str(made_in(folder / "keys", "alder-reach.example/ledger")),
        "STATIC_HASHED_NAMES": "no",
        "DJANGO_ALLOW_ASYNC_UNSAFE": "true",  # the browser's driver runs an event loop in the tests' own thread
    }


def _remove_leftovers() -> None:
    """Folders of runs that were killed; their servers ended with them."""
    for folder in Path(tempfile.gettempdir()).glob(f"{PREFIX}*"):
        pid = folder.name.removeprefix(PREFIX).split("-")[0]
        if pid.isdigit() and not Path("/proc", pid).exists():
            shutil.rmtree(folder, ignore_errors=True)
