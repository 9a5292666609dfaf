"""The parent of the server processes: starts them, restarts what dies, and stops them all when told to."""

import signal
import subprocess
import sys
import time
from collections.abc import Callable, Mapping, Sequence
from pathlib import Path
from types import FrameType
from typing import Protocol

from clinic.run import child
from clinic.run.places import ROOT
from clinic.run.progress import say

FIRST_DELAY, LONGEST_DELAY = 0.5, 30.0  # seconds before a restart: doubled each time, forgotten after a calm minute
CALM = 60.0
PATIENCE = 10.0  # seconds that a process has to stop by itself
POLL = 0.1


class Server(Protocol):
    """Anything that can be started, watched and stopped."""

    @property
    def process(self) -> subprocess.Popen[str] | None:
        """The running process."""

    @property
    def log(self) -> Path:
        """Where it writes."""

    def start(self) -> None:
        """Start it, and return when it is of use."""

    def stop(self) -> None:
        """Stop it."""


class Program:
    """One process of our own: `python -m MODULE` with an environment and a log file."""

    def __init__(self, module: str, environment: Mapping[str, str], log: Path) -> None:
        self._command: Sequence[str] = [sys.executable, "-m", module]
        self._environment = {**environment, "CLINIC_LIFELINE": "1", "PYTHONUNBUFFERED": "1"}
        self.log = log
        self.process: subprocess.Popen[str] | None = None

    def start(self) -> None:
        """Start it; whether it is of use shows later."""
        self.process = child.start(self._command, log=self.log, environment=self._environment, folder=ROOT)

    def stop(self) -> None:
        """Let it finish what it has begun, for a while."""
        child.stop(self.process, signal.SIGTERM, PATIENCE)


class Parent:
    """Watches servers in the order in which they were added; stops them in the opposite order."""

    def __init__(self) -> None:
        self._servers: dict[str, Server] = {}
        self._started: dict[str, float] = {}
        self._delay: dict[str, float] = {}
        self._due: dict[str, float] = {}
        self._stopping = False

    def add(self, name: str, server: Server) -> None:
        """Start a server and watch it from now on."""
        self._servers[name] = server
        self._start(name)

    def listen(self) -> None:
        """From now on Ctrl-C and a request to end stop everything, in order."""
        for number in (signal.SIGINT, signal.SIGTERM, signal.SIGHUP):
            signal.signal(number, self._told)

    @property
    def stopping(self) -> bool:
        """Have we been told to stop?"""
        return self._stopping

    def watch(self, until: Callable[[], bool] = lambda: False, give_up: Callable[[], bool] = lambda: False) -> bool:
        """Restart what dies, until told to stop or until a condition holds; was it the first one?"""
        while not self._stopping and not give_up():
            if until():
                return True
            for name in self._servers:
                self._look_after(name)
            time.sleep(POLL)
        return False

    def stop(self) -> None:
        """Stop all: first a word to every program of ours at once, then one after the other, servers last."""
        if self._stopping:
            say("\nStopping …")
        for server in self._servers.values():
            if isinstance(server, Program) and server.process is not None and server.process.poll() is None:
                server.process.terminate()
        for name in reversed(self._servers):
            self._servers[name].stop()

    def _told(self, number: int, frame: FrameType | None) -> None:
        self._stopping = True  # and nothing is said here: it may come in the middle of a line that is being written

    def _start(self, name: str) -> None:
        self._servers[name].start()
        self._started[name] = time.monotonic()

    def _look_after(self, name: str) -> None:
        process, now = self._servers[name].process, time.monotonic()
        if process is None or process.poll() is None:
            return
        if name not in self._due:
            calm = now - self._started[name] > CALM
            delay = FIRST_DELAY if calm else self._delay.get(name, FIRST_DELAY)
            self._delay[name] = min(2 * delay, LONGEST_DELAY)
            self._due[name] = now + delay
            where = f" Its log: {self._servers[name].log}."
            say(f"{name} ended ({process.returncode}); starting it again in {delay:.1f} s.{where}")
        elif now >= self._due[name]:
            del self._due[name]
            self._start(name)
            say(f"{name} is running again.")
