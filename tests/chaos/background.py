"""The real thing behind the tests' own database: a broker, workers, schedulers and a mail server that can be killed."""

from __future__ import annotations

import os
import secrets
import shutil
import signal
import subprocess
import sys
import tempfile
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from email import message_from_bytes
from email.message import Message
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit, urlunsplit

import pytest
from aiosmtpd.controller import Controller
from celery import Celery
from django.conf import settings
from django.db import connection

from clinic.outbox import wake
from clinic.run.places import ROOT
from clinic.run.valkey import Valkey, free_port
from tests.servers import PREFIX

LEASE = "3"  # seconds after which the row of a dead worker is another's


def eventually(true: Callable[[], bool], seconds: float = 40) -> bool:
    """Does it become true within so many seconds?"""
    deadline = time.monotonic() + seconds
    while time.monotonic() < deadline:
        if true():
            return True
        time.sleep(0.1)
    return true()


class MailServer:
    """A real SMTP sink. While `hangs` is set it takes a message and does not answer."""

    def __init__(self) -> None:
        self.messages: list[Message] = []
        self.hangs, self.reached = threading.Event(), threading.Event()
        self.port = free_port()
        self._controller = Controller(self, hostname="127.0.0.1", port=self.port)

    async def handle_DATA(self, server: Any, session: Any, envelope: Any) -> str:  # noqa: N802 — named by aiosmtpd
        """Keep a message, or leave its sender waiting."""
        self.reached.set()
        if self.hangs.is_set():
            import asyncio

            await asyncio.sleep(60)
        self.messages.append(message_from_bytes(envelope.content))
        return "250 taken"

    def start(self) -> None:
        """Listen."""
        self._controller.start()

    def stop(self) -> None:
        """Stop listening."""
        self._controller.stop(no_assert=True)


class Background:
    """Everything that runs beside the web: start it, kill it, start it again."""

    def __init__(self, folder: Path) -> None:
        folder.chmod(0o711)
        self.broker = Valkey(folder, secrets.token_urlsafe(12))
        self.mail = MailServer()
        self._folder = folder
        self._processes: list[subprocess.Popen[bytes]] = []

    def start(self) -> None:
        """The broker and the mail server; workers and schedulers are started by name."""
        self.broker.start()
        self.mail.start()

    def stop(self) -> None:
        """Leave nothing behind."""
        for process in self._processes:
            self.kill(process)
        self.mail.stop()
        self.broker.stop()

    def run(self, name: str, **more: str) -> subprocess.Popen[bytes]:
        """Start a process of clinic.run (worker, scheduler) as the parent does."""
        with (self._folder / f"{name}.log").open("ab") as log:
            process = subprocess.Popen(
                [sys.executable, "-m", f"clinic.run.{name}"],
                env=os.environ | self.environment() | more,
                cwd=ROOT,
                stdout=log,
                stderr=log,
                start_new_session=True,
            )
        self._processes.append(process)
        return process

    def kill(self, process: subprocess.Popen[bytes]) -> None:
        """kill -9, whatever it is doing, with all that it has forked."""
        if process.poll() is None:
            os.killpg(process.pid, signal.SIGKILL)
        process.wait(20)

    def environment(self) -> dict[str, str]:
        """Where the servers of this test are."""
        parts = urlsplit(os.environ["DATABASE_URL"])
        database = urlunsplit(parts._replace(path=f"/{connection.settings_dict['NAME']}"))
        return {
            "DATABASE_URL": database,
            "BROKER_URL": self.broker.url(0),
            "CACHE_URL": self.broker.url(1),
            "EMAIL_HOST": "127.0.0.1",
            "EMAIL_PORT": str(self.mail.port),
            "OUTBOX_LEASE_SECONDS": LEASE,
            "SCAN_SECONDS": "4",
            "WORKER_PROCESSES": "1",
            "LEDGER_CHECKPOINT_FILE": str(self._folder / "checkpoints.txt"),  # a ledger that begins here
            "CLINIC_LIFELINE": "1",
            "CLINIC_DEMO": "yes",  # a real server would refuse these servers, which wait for no disk
        }

    def log(self) -> str:
        """What the processes said, for a test that failed."""
        return "\n".join(path.read_text(errors="replace")[-3_000:] for path in self._folder.glob("*.log"))


@contextmanager
def a_background(monkeypatch: pytest.MonkeyPatch) -> Iterator[Background]:
    """A broker and a mail server of this test's own; the test's own process posts to that broker too."""
    folder = Path(tempfile.mkdtemp(prefix=f"{PREFIX}{os.getpid()}-"))  # where the servers' own account can go
    there = Background(folder)
    there.start()
    posting = Celery("tests", broker=there.broker.url(0), set_as_current=False)
    posting.conf.update(
        task_publish_retry_policy=settings.CELERY_TASK_PUBLISH_RETRY_POLICY,
        broker_transport_options=settings.CELERY_BROKER_TRANSPORT_OPTIONS,
    )
    monkeypatch.setattr(wake, "app", posting)
    try:
        yield there
    finally:
        there.stop()
        shutil.rmtree(folder, ignore_errors=True)
