"""`manage.py verify_ledger`, and the run of every night."""

from __future__ import annotations

import threading
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from django.core.management import CommandError, call_command

from clinic import clock
from clinic.ledger import memory, witness
from clinic.ledger.keys import ring
from clinic.ledger.models import Checkpoint
from clinic.ledger.seal import seal
from clinic.ledger.verify.nightly import verify_nightly
from clinic.ledger.witness_keep import Keep
from clinic.ledger.witness_server import server
from clinic.watch.models import Alarm, Beat
from tests.ledger.hands import behind
from tests.makers import a_therapist, an_attempt, an_episode, recorded

pytestmark = pytest.mark.django_db(transaction=True)
Said = pytest.CaptureFixture[str]


@pytest.fixture
def episode(ledger: Path) -> Any:
    """Two sealings of a record."""
    therapist = a_therapist()
    made = an_episode(assigned_to=therapist)
    recorded(therapist, made, an_attempt())
    seal(clock.now())
    recorded(therapist, made, an_attempt())
    seal(clock.now())
    return made


def change_a_row() -> None:
    with behind() as other:
        newest = other.execute("SELECT max(number) FROM checklists_entry").fetchone()
        other.execute("UPDATE checklists_entry SET kind = 'fall' WHERE number = %s", newest)


def roll_back_one() -> None:
    """The last sealing, with its rows, as if it had never been."""
    with behind() as other:
        size = other.execute("SELECT size FROM clinic_checkpoint ORDER BY size DESC OFFSET 1 LIMIT 1").fetchone()
        gone = "(SELECT number FROM clinic_ledgerleaf WHERE source = {} AND position >= %s)"
        entries, trail = gone.format(1), gone.format(2)
        contents = f"(SELECT id FROM checklists_entry WHERE number IN {entries})"
        other.execute(f"DELETE FROM checklists_entrycontent WHERE entry_id IN {contents}", size)
        other.execute(f"DELETE FROM checklists_entry WHERE number IN {entries}", size)
        other.execute(f"DELETE FROM clinic_trailrow WHERE number IN {trail}", size)
        other.execute("DELETE FROM clinic_ledgerleaf WHERE position >= %s", size)
        other.execute("DELETE FROM clinic_checkpoint WHERE size > %s", size)


def test_everything_an_episode_and_the_rest_since_a_checkpoint_hold(episode: Any, capsys: Said, tmp_path: Path) -> None:
    first = Checkpoint.objects.earliest("number")
    note = tmp_path / "first.txt"
    note.write_text(first.note)
    for words in ([], ["--episode", episode.reference], ["--since", str(first.size)], ["--since", str(note)]):
        call_command("verify_ledger", *words)
        assert "Everything that was looked at holds." in capsys.readouterr().out


def test_what_does_not_hold_is_named_with_what_still_does(episode: Any, capsys: Said) -> None:
    change_a_row()
    with pytest.raises(CommandError, match="does not hold"):
        call_command("verify_ledger")
    said = capsys.readouterr().out
    assert "A row was changed: number" in said
    assert f"The first {Checkpoint.objects.earliest('number').size:,} rows hold" in said


@pytest.mark.parametrize("words", [["--episode", "E99-9999"], ["--since", "7777"], ["--since", "/nowhere/at/all"]])
def test_what_is_not_there_is_said_in_a_sentence(episode: Any, words: Any) -> None:
    with pytest.raises(CommandError, match=r"There is no|takes a number"):
        call_command("verify_ledger", *words)


@contextmanager
def a_witness(folder: Path) -> Iterator[str]:
    """A real one, which has the newest checkpoint."""
    running = server(Keep.at(folder, ring()), "127.0.0.1", 0)
    threading.Thread(target=running.serve_forever, daemon=True).start()
    try:
        yield f"http://127.0.0.1:{running.server_address[1]}"
    finally:
        running.shutdown()
        running.server_close()


def test_a_witness_betrays_what_was_rolled_back(episode: Any, tmp_path: Path, settings: Any, capsys: Said) -> None:
    with a_witness(tmp_path / "witness") as address:
        witness.post(address, Checkpoint.objects.latest("number").note)
        roll_back_one()
        memory.path().unlink()
        call_command("verify_ledger")  # nobody knows better
        with pytest.raises(CommandError):
            call_command("verify_ledger", "--witness", address)
    assert "The database was rolled back" in capsys.readouterr().out


def test_a_witness_who_does_not_answer_is_said_and_is_no_finding(episode: Any, capsys: Said) -> None:
    call_command("verify_ledger", "--witness", "http://127.0.0.1:9")
    assert "Not looked at: Witness http://127.0.0.1:9" in capsys.readouterr().out


# --- every night ------------------------------------------------------------------------------------------------------
NIGHT, NOON = datetime(2026, 11, 26, 2, 30, tzinfo=UTC), datetime(2026, 11, 26, 12, 0, tzinfo=UTC)


def test_it_runs_once_a_night_and_soon_after_a_missed_one(episode: Any) -> None:
    ran = [at for at in (NIGHT - timedelta(hours=14), NIGHT, NIGHT + timedelta(hours=1), NOON) if verify_nightly(at)]
    assert ran == [NIGHT - timedelta(hours=14), NIGHT]  # the first ever at once, then by night alone
    assert Beat.objects.get(name="verify").at == NIGHT
    assert verify_nightly(NIGHT + timedelta(hours=26))
    assert not Alarm.objects.exists()


def test_what_it_finds_is_an_alarm_that_a_later_run_does_not_settle(episode: Any) -> None:
    change_a_row()
    verify_nightly(NIGHT)
    alarm = Alarm.objects.get()
    assert alarm.kind == "ledger.does_not_hold"
    assert "a row was changed: number" in alarm.text
    with behind() as other:
        other.execute("UPDATE checklists_entry SET kind = 'attempt' WHERE kind = 'fall'")
    verify_nightly(NIGHT + timedelta(days=1))
    assert Alarm.objects.get().settled_at is None
