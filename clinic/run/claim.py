"""One data folder, one owner at a time: who holds it, and how others reach the servers that run from it."""

import fcntl
import json
import os
import time
from pathlib import Path
from typing import TypedDict


class Running(TypedDict):
    """What a running demo tells others who want to use its servers."""

    pid: int
    address: str
    environment: dict[str, str]


class Claim:
    """The right to start servers on a data folder. The kernel gives it back however the holder ends."""

    def __init__(self, folder: Path) -> None:
        self._lock, self._notice = folder / "lock", folder / "running.json"
        self._descriptor: int | None = None

    def take(self) -> bool:
        """True when it is ours from now on, false while somebody else holds it."""
        descriptor = os.open(self._lock, os.O_RDWR | os.O_CREAT, 0o600)  # closed at exec, so children do not hold it
        try:
            fcntl.flock(descriptor, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError:
            os.close(descriptor)
            return False
        self._descriptor = descriptor
        self._notice.unlink(missing_ok=True)  # of a holder that was killed
        return True

    def wait(self, seconds: float) -> bool:
        """Take it as soon as its holder gives it back, within so many seconds."""
        deadline = time.monotonic() + seconds
        while not self.take():
            if time.monotonic() > deadline:
                return False
            time.sleep(0.1)
        return True

    def announce(self, address: str, environment: dict[str, str]) -> None:
        """Let others know how to reach the servers; readable by our own account alone, since it holds passwords."""
        notice: Running = {"pid": os.getpid(), "address": address, "environment": environment}
        partial = self._notice.with_suffix(".new")
        partial.unlink(missing_ok=True)
        with os.fdopen(os.open(partial, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600), "w") as file:
            json.dump(notice, file)
        partial.replace(self._notice)

    def running(self) -> Running | None:
        """What the holder announced, or nothing (it is starting, or is a single command that announces nothing)."""
        try:
            notice: Running = json.loads(self._notice.read_text())
        except (OSError, ValueError):
            return None
        return notice

    def release(self) -> None:
        """Give it back."""
        if self._descriptor is not None:
            self._notice.unlink(missing_ok=True)
            os.close(self._descriptor)
            self._descriptor = None
