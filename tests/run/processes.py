"""Starts `manage.py` as a user would, and looks at the processes that come of it."""

import json
import os
import queue
import signal
import subprocess
import sys
import threading
import time
import urllib.error
import urllib.request
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any

import psutil

from clinic.run.places import ROOT

OF_THE_TESTS = (
    "DATABASE_URL",
    "MIGRATE_DATABASE_URL",
    "BROKER_URL",
    "CACHE_URL",
    "SECRET_KEY",
    "STATIC_HASHED_NAMES",
    "TEST_",
    "PYTEST_",
)


def plain_environment(data: Path, **more: str) -> dict[str, str]:
    """The environment of somebody who has set nothing but the data folder."""
    kept = {name: value for name, value in os.environ.items() if not name.startswith(OF_THE_TESTS)}
    return kept | {"DATA_DIR": str(data)} | more


def manage(data: Path, *words: str, seconds: float = 180) -> subprocess.CompletedProcess[str]:
    """Run a command to its end."""
    command = [sys.executable, str(ROOT / "manage.py"), *words]
    return subprocess.run(
        command, env=plain_environment(data), capture_output=True, text=True, timeout=seconds, check=False
    )


def eventually(true: Callable[[], bool], seconds: float) -> bool:
    """Does it become true within so many seconds?"""
    deadline = time.monotonic() + seconds
    while time.monotonic() < deadline:
        if true():
            return True
        time.sleep(0.1)
    return true()


def command_of(process: psutil.Process) -> str:
    """The command line of a process; empty once it has ended, reaped or not."""
    try:
        return " ".join(process.cmdline())
    except (psutil.NoSuchProcess, psutil.ZombieProcess):
        return ""


class Demo:
    """One start of the demo, without invented people, on a data folder."""

    def __init__(self, data: Path, *words: str) -> None:
        self.data, self.said = data, ""
        command: Sequence[str] = [sys.executable, str(ROOT / "manage.py"), "demo", "--empty", *words]
        self.process = subprocess.Popen(
            command, env=plain_environment(data), stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True
        )
        self._lines: queue.Queue[str] = queue.Queue()
        threading.Thread(target=self._read, daemon=True).start()

    def _read(self) -> None:
        for line in self.process.stdout or ():
            self._lines.put(line)

    def wait_for(self, words: str, seconds: float = 180) -> str:
        """Read what it says until these words come; everything said so far."""
        deadline = time.monotonic() + seconds
        while words not in self.said:
            try:
                self.said += self._lines.get(timeout=max(0.01, deadline - time.monotonic()))
            except queue.Empty:
                raise AssertionError(f"{words!r} was not said within {seconds} s, but:\n{self.said}") from None
        return self.said

    def heard(self) -> str:
        """Everything said up to now."""
        while not self._lines.empty():
            self.said += self._lines.get()
        return self.said

    @property
    def notice(self) -> dict[str, Any]:
        """What it announces to other commands."""
        notice: dict[str, Any] = json.loads((self.data / "running.json").read_text())
        return notice

    def answers(self) -> bool:
        """Does the server answer, with its database?"""
        try:
            with urllib.request.urlopen(f"{self.notice['address']}/health", timeout=5) as answer:  # noqa: S310 — our own address
                return bool(answer.status == 200)
        except (urllib.error.URLError, OSError):
            return False

    def descendants(self) -> list[psutil.Process]:
        """Every process below the parent."""
        return list(psutil.Process(self.process.pid).children(recursive=True))

    def child(self, word: str) -> psutil.Process:
        """The direct child whose command line holds this word, once there is exactly one: a killed one takes a moment
        to be seen as dead, and its successor one to become itself."""
        found: list[psutil.Process] = []

        def one() -> bool:
            found[:] = [each for each in psutil.Process(self.process.pid).children() if word in command_of(each)]
            return len(found) == 1

        assert eventually(one, 60), f"{word}: {found}"
        return found[0]

    def interrupt(self, seconds: float = 60) -> int:
        """Ctrl-C; the exit status."""
        self.process.send_signal(signal.SIGINT)
        return self.process.wait(seconds)

    def end(self) -> None:
        """Leave nothing behind, whatever a test did."""
        if self.process.poll() is None:
            self.process.kill()
            self.process.wait()


def alive(processes: list[psutil.Process]) -> list[psutil.Process]:
    """Those that still run; one that waits to be reaped by the machine's first process does not."""
    return [process for process in processes if process.is_running() and _status(process) != psutil.STATUS_ZOMBIE]


def _status(process: psutil.Process) -> str:
    try:
        return str(process.status())
    except psutil.NoSuchProcess:
        return str(psutil.STATUS_ZOMBIE)
