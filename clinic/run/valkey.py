"""The embedded Valkey: broker and cache, a child of ours, on a free port of this machine alone.

Its password is made by chance.
"""

import signal
import socket
import subprocess
import time
from pathlib import Path

import redis

from clinic.run import child
from clinic.run.places import Unusable, valkey_programme

TRIES = 5


def free_port() -> int:
    """A port that nobody listens on at this moment."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


class Valkey:
    """One server with its append-only file below `folder`."""

    def __init__(self, folder: Path, password: str) -> None:
        self._data, self.log = folder / "valkey", folder / "valkey.log"
        self._password = password
        self._programme = valkey_programme()
        self._process: subprocess.Popen[str] | None = None
        self._port: int | None = None

    def start(self) -> None:
        """Start and return when it answers. A restart keeps the port, since everybody knows it by now."""
        self._data.mkdir(exist_ok=True)
        child.give_to_server(self._data, 0o700)
        known = self._port
        for _ in range(TRIES):
            self._port = known or free_port()
            self._launch()
            if self._answers():
                return
            child.stop(self._process, signal.SIGTERM, 5)  # somebody took the port in between
        raise Unusable(f"Valkey did not start; its log is {self.log}.")

    @property
    def process(self) -> subprocess.Popen[str] | None:
        """The server process, for whoever watches it."""
        return self._process

    def stop(self) -> None:
        """Stop cleanly."""
        child.stop(self._process, signal.SIGTERM, 10)
        self._process = None

    def url(self, database: int) -> str:
        """The address of one of its numbered databases."""
        return f"redis://:{self._password}@127.0.0.1:{self._port}/{database}"

    def _launch(self) -> None:
        """The configuration holds the password: it goes in by standard input and never lies in a file."""
        lines = {"port": self._port, "bind": "127.0.0.1", "requirepass": self._password, "dir": self._data}
        lines |= {
            "appendonly": "yes",
            "maxmemory-policy": "noeviction",
            "save": '""',
            "databases": 64,
            "daemonize": "no",
        }
        self._process = child.start(
            [self._programme, "-"],
            log=self.log,
            at_parents_death=signal.SIGTERM,
            account=child.server_account(),
            given="".join(f"{name} {_quoted(value)}\n" for name, value in lines.items()),
        )

    def _answers(self) -> bool:
        """True once it answers with our password; false when it has ended or is somebody else's."""
        deadline = time.monotonic() + 20
        with redis.Redis.from_url(self.url(0), socket_timeout=5) as client:
            while self._process is not None and self._process.poll() is None and time.monotonic() < deadline:
                try:
                    client.ping()
                except redis.AuthenticationError:
                    return False
                except (redis.BusyLoadingError, redis.ConnectionError):
                    time.sleep(0.03)
                else:
                    return True
        return False


def _quoted(value: object) -> str:
    text = str(value)
    return f'"{text}"' if " " in text and not text.startswith('"') else text
