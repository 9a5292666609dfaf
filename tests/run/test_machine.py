"""What the tests need of the machine, and what an ordinary user is told where it is missing."""

import shutil
import subprocess

import pytest

from clinic.run import checks, machine
from clinic.run.machine import Need

MISSING = [
    Need("chromium-headless-shell", "the browser", False),
    Need("mona", "the automata", False),
    Need("x", "x", True),
]


def test_an_ordinary_user_is_told_in_one_sentence_what_root_installs(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr(machine, "needs", lambda: MISSING)
    monkeypatch.setattr(machine, "is_root", lambda: False)
    monkeypatch.setattr(checks, "_passes", lambda *_, **__: pytest.fail("nothing may run"))
    assert checks.run([]) == 1
    said = capsys.readouterr().err
    assert "let root run `apt-get install --no-install-recommends chromium-headless-shell mona` once" in said
    assert said.count("\n") == 1


def test_root_installs_only_what_is_missing(monkeypatch: pytest.MonkeyPatch) -> None:
    ran: list[list[str]] = []

    def run(command: list[str], **_: object) -> subprocess.CompletedProcess[str]:
        ran.append(command)
        return subprocess.CompletedProcess(command, 0, "", "")

    monkeypatch.setattr(machine, "needs", lambda: MISSING)
    monkeypatch.setattr(machine, "is_root", lambda: True)
    monkeypatch.setattr(shutil, "which", lambda name: f"/usr/bin/{name}")
    monkeypatch.setattr(subprocess, "run", run)
    machine.provide()
    assert ran[-1][-2:] == ["chromium-headless-shell", "mona"]


def test_the_quick_subset_asks_nothing_of_the_machine(monkeypatch: pytest.MonkeyPatch) -> None:
    ran: list[list[str]] = []

    def passes(name: str, command: list[str], **_: object) -> bool:
        ran.append(command)
        return True

    monkeypatch.setattr(machine, "provide", lambda: pytest.fail("not for the quick subset"))
    monkeypatch.setattr(checks, "_passes", passes)
    assert checks.run(["--quick"]) == 0
    assert checks.QUICK in ran[-1]


@pytest.mark.parametrize("fails", ["lint", "formatting", "types", "import contracts", "missing migrations", "tests"])
def test_one_step_that_fails_fails_the_run_and_the_others_still_run(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], fails: str
) -> None:
    ran: list[str] = []

    def passes(name: str, command: list[str], **_: object) -> bool:
        ran.append(name)
        return name != fails

    monkeypatch.setattr(machine, "provide", lambda: None)
    monkeypatch.setattr(checks, "_passes", passes)
    assert checks.run([]) == 1
    assert f"FAILED: {fails}." in capsys.readouterr().out
    assert len(ran) == 6
