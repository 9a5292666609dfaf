"""Worker, scheduler and broker are killed, a real disk fills: page and health address say so within the limit."""

from __future__ import annotations

import shutil
import subprocess
import tempfile
from collections.abc import Iterator
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from django.test import Client

from clinic import clock
from clinic.models import Beat
from clinic.watch import look, selectors
from clinic.watch.beats import beat
from clinic.watch.limits import LIMITS
from tests.chaos.background import Background, a_background, eventually
from tests.makers import a_therapist, in_through_the_door, now

REAL = {one.name: one.most for one in LIMITS}
pytestmark = [pytest.mark.django_db(transaction=True), pytest.mark.chaos, pytest.mark.timeout(240)]


@pytest.fixture(autouse=True)
def real_limits(settings: Any, tmp_path: Path) -> Iterator[None]:
    """The numbers of a clinic's own server, where the clock may be set; and a ledger that begins here."""
    settings.WATCH_LIMITS, settings.CLOCK_CAN_BE_SET = dict(REAL), True
    settings.LEDGER_CHECKPOINT_FILE = str(tmp_path / "checkpoints.txt")
    selectors.forget()
    yield
    selectors.forget()


@pytest.fixture
def background(monkeypatch: pytest.MonkeyPatch) -> Iterator[Background]:
    with a_background(monkeypatch) as there:
        yield there


def seen_at(at: datetime, browser: Client) -> tuple[int, bool]:
    """What the health address answers, and whether a page that somebody opens says that alerts may reach nobody."""
    with clock.at_instant(at):
        said = browser.get("/watch/now/").content.decode()
        return Client().get("/health").status_code, "Alerts may be reaching nobody" in said


@pytest.mark.parametrize("killed", ["worker", "scheduler", "broker"])
def test_a_dead_worker_is_said_on_the_page_and_by_the_health_address(background: Background, killed: str) -> None:
    """All three beat while they live. After a kill nothing beats, and time alone brings it to light."""
    alive = {name: background.run(name) for name in ("worker", "scheduler")}
    assert eventually(lambda: Beat.objects.filter(name__in=("outbox", "deadlines", "seal")).count() == 3, 90), (
        background.log()
    )
    therapist = a_therapist()
    browser = Client()
    assert in_through_the_door(browser, therapist).status_code == 302
    for name in ("verify", "backup", "restore"):
        beat(name, now())
    assert seen_at(now(), browser) == (200, False), selectors.state(now()).wrong
    for name in {killed} & alive.keys():
        background.kill(alive[name])
    broker = background.broker.process
    if killed == "broker":
        assert broker is not None
        broker.kill()
        broker.wait()
    elif killed == "scheduler":  # committed news wakes the worker without it; what is overdue nobody looks for
        Beat.objects.filter(name="deadlines").update(at=now())
    soon = now() + timedelta(seconds=max(REAL["worker"], REAL["deadlines"]) + 30)
    assert seen_at(soon, browser) == (503, True)


@pytest.fixture
def small_disk() -> Iterator[Path]:
    """A disk of eight megabytes."""
    folder = Path(tempfile.mkdtemp(prefix="clinic-disk-"))
    command = ["mount", "-t", "tmpfs", "-o", "size=8m,mode=0777", "tmpfs", str(folder)]
    mounted = shutil.which("mount") and subprocess.run(command, capture_output=True, check=False).returncode == 0
    if not mounted:
        folder.rmdir()
        pytest.skip("a disk can be mounted by root only, and not in every container")
    yield folder
    subprocess.run(["umount", str(folder)], check=True)
    folder.rmdir()


def test_a_disk_that_fills_is_said_on_the_page_before_it_is_full(small_disk: Path, settings: Any) -> None:
    settings.WATCH_LIMITS = {"disk": 4}
    settings.WATCH_FOLDERS = [str(small_disk), "/nowhere"]
    assert selectors.state(now()).well
    (small_disk / "filler").write_bytes(b"\0" * 5 * look.MEGABYTE)
    (wrong,) = selectors.state(now()).wrong
    assert (wrong.limit.name, wrong.detail) == ("disk", str(small_disk))
    selectors.forget()
    assert Client().get("/health").status_code == 503
    (small_disk / "filler").unlink()
    assert selectors.state(now()).well
