"""The server is put back from a backup of before the session: the tablet still has its marks, and gives them again."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator
from io import StringIO
from pathlib import Path
from typing import Any

import psycopg
import pytest
from django.core.management import call_command
from django.db import connection
from playwright.sync_api import expect
from psycopg import sql

from clinic.ledger.seal import seal
from clinic.run.backup import tools
from tests.browser.conftest import Enter, sign_in
from tests.browser.floor_hands import Hand, recorded
from tests.makers import a_therapist, ago, an_attempt, an_episode, now
from tests.makers import recorded as written
from tests.run.test_backup import of_the_test

RESTORED = "clinic_put_back"


@pytest.fixture
def put_back(monkeypatch: pytest.MonkeyPatch, settings: Any, tmp_path: Path) -> Iterator[Callable[[Path], None]]:
    """Restore a backup for good, as a clinic would, and let the server go on with that database."""
    settings.LEDGER_CHECKPOINT_FILE = str(tmp_path / "checkpoints.txt")
    monkeypatch.setenv(tools.OWNERS_ADDRESS, of_the_test(os.environ["TEST_OWNER_URL"]))
    monkeypatch.setenv("DATABASE_URL", of_the_test(os.environ["DATABASE_URL"]))
    before = connection.settings_dict["NAME"]

    def put(dump: Path) -> None:
        call_command("restore", "--into", RESTORED, str(dump), stdout=StringIO())
        connection.close()
        connection.settings_dict["NAME"] = RESTORED
        with psycopg.connect(os.environ["TEST_SUPERUSER_URL"], autocommit=True) as other:  # as if it had been stopped
            other.execute("SELECT pg_terminate_backend(pid) FROM pg_stat_activity WHERE datname = %s", [before])

    yield put
    connection.close()
    connection.settings_dict["NAME"] = before
    with psycopg.connect(os.environ["TEST_SUPERUSER_URL"], autocommit=True) as other:
        other.execute(sql.SQL("DROP DATABASE IF EXISTS {} WITH (FORCE)").format(sql.Identifier(RESTORED)))


def test_what_a_restored_server_has_lost_is_in_its_record_again(
    enter: Enter, put_back: Callable[[Path], None], tmp_path: Path
) -> None:
    therapist = a_therapist(name="Runa Achterling")
    ines = an_episode(assigned_to=therapist)
    written(therapist, ines, an_attempt(at=ago(days=2), help="alone"))
    seal(now())
    call_command("backup", to=tmp_path, stdout=StringIO())
    (dump,) = tmp_path.glob("*.dump")
    page = enter(therapist, f"/floor/{ines.pk}/")
    hand = Hand(page)
    hand.start_check()
    hand.sent()
    made = {fact["id"] for fact in recorded(ines, "session_opened", "check")}
    assert len(made) == 2
    put_back(dump)
    assert recorded(ines, "session_opened", "check") == []
    sign_in(page, therapist)  # a restore ends all sessions
    page.goto("/day-end/")
    unsent = page.locator("[data-unsent]")
    unsent.get_by_text("The server was put back from a backup?").click()
    unsent.get_by_role("button", name="Send again").click()
    expect(unsent).to_contain_text("2 marks are on their way again")
    expect(unsent.locator("[data-unsent-words]")).to_have_text("Everything that was recorded on this device is sent.")
    assert {fact["id"] for fact in recorded(ines, "session_opened", "check")} == made
