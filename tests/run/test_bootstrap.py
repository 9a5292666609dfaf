"""`manage.py` in an empty copy: makes its environment from the lock file and runs in it, whatever Python starts it.

A lock file of one package stands in for the real one, whose installation each fresh run of the whole shows.
"""

import os
import re
import shutil
import subprocess
import sys
import time
from pathlib import Path

import pytest

from clinic.run.places import ROOT

pytestmark = [pytest.mark.slow, pytest.mark.timeout(600)]

BASE = str(getattr(sys, "_base_executable", sys.executable))
DOOR = """\
import sys, sqlparse


def run(argv):
    print("INSIDE", sys.prefix, *argv[1:])
    return 7 if "seven" in argv else 0
"""


@pytest.fixture
def copy(tmp_path: Path) -> Path:
    """The start of the project alone, with a door that says where it stands."""
    project = tmp_path / "project"
    (project / "clinic" / "run").mkdir(parents=True)
    (project / "tests").mkdir()
    for name in ("manage.py", "clinic/__init__.py", "clinic/run/__init__.py"):
        shutil.copy(ROOT / name, project / name)
    for name in ("environment", "progress"):
        shutil.copy(ROOT / "clinic" / "run" / f"{name}.py", project / "clinic" / "run")
    (project / "clinic" / "run" / "door.py").write_text(DOOR)
    pins = _pin("sqlparse")
    (project / "requirements.txt").write_text(pins)
    (project / "tests" / "requirements.txt").write_text(pins + _pin("iniconfig"))
    return project


def _pin(package: str) -> str:
    """The lines of the real lock file about a package."""
    text = (ROOT / "tests" / "requirements.txt").read_text()
    found = re.search(rf"^{package}==.*?(?=^\S)", text, re.MULTILINE | re.DOTALL)
    assert found is not None
    return found.group()


def _start(project: Path, *words: str, faults: int = subprocess.STDOUT) -> subprocess.Popen[str]:
    surroundings = {
        name: value for name, value in os.environ.items() if name not in ("VIRTUAL_ENV", "CLINIC_ENVIRONMENT")
    }
    return subprocess.Popen(
        [BASE, "manage.py", *words],
        cwd=project,
        env=surroundings,
        text=True,
        stdout=subprocess.PIPE,
        stderr=faults,
    )


def _said(project: Path, *words: str, code: int = 0) -> str:
    process = _start(project, *words)
    said, _ = process.communicate(timeout=400)
    assert process.returncode == code, said
    return said


def test_it_makes_the_environment_once_and_runs_in_it(copy: Path) -> None:
    first = _said(copy, "hello", "seven", code=7)
    assert "Making the environment" in first
    assert f"INSIDE {copy}/.venv hello seven" in first
    assert _said(copy, "hello") == f"INSIDE {copy}/.venv hello\n"


def test_what_a_command_prints_is_its_own_from_the_first_start_on(copy: Path) -> None:
    """`replay … > file` holds the command's lines and nothing of the making."""
    process = _start(copy, "hello", faults=subprocess.PIPE)
    printed, faults = process.communicate(timeout=400)
    assert printed == f"INSIDE {copy}/.venv hello\n"
    assert "Making the environment" in faults


def test_a_changed_lock_file_is_installed_and_a_half_made_environment_is_made_again(copy: Path) -> None:
    _said(copy, "hello")
    with (copy / "requirements.txt").open("a") as lock_file:
        lock_file.write(_pin("iniconfig"))
    assert "Making the environment" in _said(copy, "hello")
    (copy / ".venv" / "installed.json").unlink()
    shutil.rmtree(next(copy.glob(".venv/lib/python*/site-packages/sqlparse")))
    again = _said(copy, "hello")
    assert "left unfinished" in again
    assert "INSIDE" in again


def test_a_package_with_another_digest_is_refused(copy: Path) -> None:
    lock_file = copy / "requirements.txt"
    lock_file.write_text(re.sub(r"sha256:\w{8}", "sha256:00000000", lock_file.read_text()))
    said = _said(copy, "hello", code=1)
    assert "DO NOT MATCH THE HASHES" in said
    assert "The environment could not be made" in said
    assert "INSIDE" not in said
    assert not (copy / ".venv" / "installed.json").exists()


def test_two_starts_at_once_do_not_trample_each_other(copy: Path) -> None:
    one, other = _start(copy, "one"), _start(copy, "other")
    said = [process.communicate(timeout=400)[0] for process in (one, other)]
    assert (one.returncode, other.returncode) == (0, 0), said
    assert sorted(text.count("Making the environment …") for text in said) == [0, 1], said
    assert sum("waiting for it" in text for text in said) == 1, said


def test_a_start_that_was_killed_is_made_good_by_the_next(copy: Path) -> None:
    first = _start(copy, "hello")
    deadline = time.monotonic() + 60
    while not (copy / ".venv" / "bin" / "python").exists() and time.monotonic() < deadline:
        time.sleep(0.02)
    first.kill()
    first.wait()
    assert f"INSIDE {copy}/.venv hello" in _said(copy, "hello")


def test_the_tests_requirements_are_added_for_the_test_command(copy: Path) -> None:
    _said(copy, "hello")
    assert not list(copy.glob(".venv/lib/python*/site-packages/iniconfig"))
    _said(copy, "test")
    assert list(copy.glob(".venv/lib/python*/site-packages/iniconfig"))
    assert _said(copy, "hello") == f"INSIDE {copy}/.venv hello\n"


def test_the_lock_files_name_no_index_and_pin_everything_with_digests() -> None:
    for name in ("requirements.txt", "tests/requirements.txt"):
        text = (ROOT / name).read_text()
        assert "http" not in text
        assert "--index" not in text
        pins = re.findall(r"^(\S+)==.*?(?=^\S|\Z)", text, re.MULTILINE | re.DOTALL)
        blocks = re.findall(r"^\S+==.*?(?=^\S|\Z)", text, re.MULTILINE | re.DOTALL)
        assert len(pins) > 40
        assert all("--hash=sha256:" in block for block in blocks)


def test_the_tests_lock_file_agrees_with_the_programmes() -> None:
    pins = [
        set(re.findall(r"^(\S+==\S+)", (ROOT / name).read_text(), re.MULTILINE))
        for name in ("requirements.txt", "tests/requirements.txt")
    ]
    assert pins[0] <= pins[1]
