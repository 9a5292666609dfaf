"""The demo's parent: restarts what dies, leaves nothing behind, keeps the data."""

import socket
from collections.abc import Iterator
from pathlib import Path

import psycopg
import pytest

from tests.run.processes import Demo, alive, command_of, eventually, manage
from tests.servers import open_folder

pytestmark = [pytest.mark.chaos, pytest.mark.slow, pytest.mark.timeout(600)]


@pytest.fixture(scope="module")
def busy_port() -> Iterator[int]:
    """A port that somebody else listens on."""
    with socket.socket() as other:
        other.bind(("127.0.0.1", 0))
        other.listen()
        yield int(other.getsockname()[1])


@pytest.fixture
def data() -> Iterator[Path]:
    """A data folder of one test's own."""
    with open_folder() as folder:
        yield folder


@pytest.fixture(scope="module")
def demo(busy_port: int) -> Iterator[Demo]:
    """A running demo, started on a port that is busy."""
    with open_folder() as data:
        started = Demo(data, "--port", str(busy_port))
        started.wait_for("Ctrl-C stops everything")
        yield started
        started.end()


def _leave_a_row(demo: Demo) -> None:
    with psycopg.connect(demo.notice["environment"]["DATABASE_URL"]) as connection:
        connection.execute("INSERT INTO django_session VALUES ('kept', 'data', now())")


def _rows(demo: Demo) -> list[str]:
    with psycopg.connect(demo.notice["environment"]["DATABASE_URL"]) as connection:
        return [
            str(row[0])
            for row in connection.execute("SELECT session_key FROM django_session WHERE session_key = 'kept'")
        ]


def test_a_busy_port_is_stepped_over_and_said(demo: Demo, busy_port: int) -> None:
    assert f"Port {busy_port} is busy" in demo.said
    assert not demo.notice["address"].endswith(f":{busy_port}")
    assert eventually(demo.answers, 60)


@pytest.mark.parametrize("name", ["clinic.run.web", "clinic.run.worker", "clinic.run.scheduler", "valkey-server"])
def test_what_is_killed_is_started_again(demo: Demo, name: str) -> None:
    victim = demo.child(name)
    below = victim.children(recursive=True)
    victim.kill()
    assert eventually(lambda: not alive(below), 20), "its own children outlived it"
    assert eventually(lambda: any(name in command_of(each) for each in demo.descendants()), 60)
    assert eventually(demo.answers, 60)


def test_a_killed_web_worker_is_replaced(demo: Demo) -> None:
    web = demo.child("clinic.run.web")
    before = set(web.children())
    next(iter(before)).kill()
    assert eventually(lambda: len(alive(web.children())) == len(before) and set(web.children()) != before, 60)
    assert eventually(demo.answers, 60)


def test_a_killed_database_comes_back_with_its_rows_and_the_pages_recover(demo: Demo) -> None:
    _leave_a_row(demo)
    assert eventually(demo.answers, 60)
    victim = demo.child("bin/postgres")
    victim.kill()
    assert eventually(lambda: "PostgreSQL is running again" in demo.heard(), 60)
    assert demo.child("bin/postgres").pid != victim.pid
    assert eventually(demo.answers, 60)
    assert _rows(demo) == ["kept"]


def test_another_command_uses_the_running_servers(demo: Demo) -> None:
    _leave_a_row_once(demo)
    said = manage(
        demo.data,
        "shell",
        "-v0",
        "-c",
        "from django.contrib.sessions.models import Session as S; print(S.objects.get(pk='kept'))",
    )
    assert said.returncode == 0, said.stderr
    assert "kept" in said.stdout
    assert eventually(demo.answers, 60)


def test_a_second_start_says_that_it_runs_already(demo: Demo) -> None:
    second = manage(demo.data, "demo", "--empty")
    assert second.returncode == 1
    assert f"The demo is running already: {demo.notice['address']}" in second.stdout


def test_the_pages_processes_are_not_given_the_owners_address(demo: Demo) -> None:
    for name in ("clinic.run.web", "clinic.run.worker", "clinic.run.scheduler"):
        surroundings = demo.child(name).environ()
        assert "clinic_app" in surroundings["DATABASE_URL"]
        assert not [value for value in surroundings.values() if "clinic_owner" in value]


def test_the_database_server_does_not_run_as_root(demo: Demo) -> None:
    assert demo.child("bin/postgres").uids().real != 0
    assert demo.child("valkey-server").uids().real != 0


def _leave_a_row_once(demo: Demo) -> None:
    if not _rows(demo):
        _leave_a_row(demo)


def test_stopping_starting_again_and_being_killed(data: Path) -> None:
    """Ctrl-C stops everything; the next start finds the data; kill -9 leaves no orphan; --fresh begins again."""
    first = Demo(data)
    try:
        first.wait_for("Ctrl-C stops everything")
        _leave_a_row(first)
        below = first.descendants()
        assert first.interrupt() == 0
        assert alive(below) == []
        first.wait_for("Everything is stopped.")
    finally:
        first.end()

    second = Demo(data)
    try:
        second.wait_for("Ctrl-C stops everything")
        assert _rows(second) == ["kept"]
        below = second.descendants()
        assert len(below) >= 5
        second.process.kill()
        assert eventually(lambda: not alive(below), 20), f"orphans: {alive(below)}"
    finally:
        second.end()

    third = Demo(data, "--fresh")
    try:
        third.wait_for("Ctrl-C stops everything")
        assert _rows(third) == []
        assert third.interrupt() == 0
    finally:
        third.end()


def test_a_command_starts_the_database_for_itself_and_stops_it(data: Path) -> None:
    question = (
        "from django.db import connection as c; u = c.cursor(); print(u.execute('SELECT current_user').fetchone())"
    )
    said = manage(data, "shell", "-v0", "-c", question)
    assert said.returncode == 0, said.stderr
    assert "clinic_app" in said.stdout
    assert not (data / "postgres" / "postmaster.pid").exists()


def test_a_command_that_needs_no_database_starts_none(data: Path) -> None:
    said = manage(data, "check")
    assert said.returncode == 0, said.stderr
    assert not (data / "postgres").exists()
