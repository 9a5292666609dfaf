"""Sealing: every committed row that is ours once, whatever commits late, and nothing that is not ours."""

from __future__ import annotations

import os
import random
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import psycopg
import pytest
from django.db import connection, transaction

from caseload.models import Episode
from checklists.record.leaf import ENTRY
from clinic.access import standing
from clinic.audit import trail
from clinic.audit.leaf import TRAIL
from clinic.ledger import memory
from clinic.ledger import seal as sealing
from clinic.ledger.models import Checkpoint
from clinic.ledger.seal import seal
from clinic.models import Alarm, Beat, OutboxRow, Staff, TrailRow
from clinic.tasks import seal_ledger
from clinic.watch.alarms import settle
from tests.ledger.hands import behind, gaps, holds, rows, sealed
from tests.makers import a_therapist, ago, an_attempt, an_episode, now, recorded

pytestmark = pytest.mark.usefixtures("ledger")


def write(many: int = 1) -> None:
    """Rows of the trail, each committed by itself."""
    for _ in range(many):
        trail.record(None, "test.done", "test", "1", at=now(), detail={"by": "hand"})


@contextmanager
def under_way() -> Iterator[Callable[[], None]]:
    """A transaction of somebody else's that has written a row and not committed it; give the word and it does."""
    written, word, done = threading.Event(), threading.Event(), threading.Event()

    def work() -> None:
        with transaction.atomic():
            write()
            written.set()
            word.wait(30)
        connection.close()
        done.set()

    def commit() -> None:
        word.set()
        assert done.wait(30)

    thread = threading.Thread(target=work)
    thread.start()
    try:
        assert written.wait(30)
        yield commit
    finally:
        word.set()
        thread.join(30)


def given_up() -> None:
    """A transaction that writes a row and is rolled back."""
    with transaction.atomic():
        write()
        transaction.set_rollback(True)


def test_facts_and_trail_are_sealed_each_once() -> None:
    therapist = a_therapist()
    episode = an_episode(assigned_to=therapist)
    recorded(therapist, episode, an_attempt(at=ago(minutes=9)))
    recorded(therapist, episode, *(an_attempt(at=ago(minutes=8 - n)) for n in range(5)))
    done = seal(now())
    assert done.leaves == done.size == len(rows()) > 8
    assert set(sealed()) == rows()
    assert holds()


def test_what_is_sealed_already_is_not_sealed_again() -> None:
    write(3)
    seal(now())
    assert (seal(now()).leaves, Checkpoint.objects.count()) == (0, 1)
    write(2)
    assert seal(now()).leaves == 2
    assert len(sealed()) == len(set(sealed())) == 5
    assert holds()


def test_a_row_that_commits_late_is_sealed_behind_those_that_were_quicker() -> None:
    write()
    with under_way() as commit:
        write(2)
        assert seal(now()).leaves == 3
        (gap,) = gaps()
        assert seal(now()).leaves == 0, "it is not there yet"
        commit()
        write()
        assert seal(now()).leaves == 2
    assert sealed()[3] == (TRAIL.code, gap[1])
    assert gaps() == []
    assert holds()


def test_a_number_that_was_given_up_costs_one_row_and_holds_nothing_up() -> None:
    for _ in range(3):
        write()
        given_up()
        given_up()
    write()
    assert seal(now()).leaves == 4
    assert [last - first for _, first, last, _ in gaps()] == [1, 1, 1]
    before = gaps()
    write()
    assert seal(now()).leaves == 1
    assert gaps() == before


def test_a_gap_of_many_numbers_closes_piece_by_piece() -> None:
    with under_way() as one:
        given_up()
        with under_way() as other:
            write()
            seal(now())
            assert len(gaps()) == 1
            other()
            assert seal(now()).leaves == 1
        one()
        assert seal(now()).leaves == 1
    assert [(last - first) for _, first, last, _ in gaps()] == [0]
    assert set(sealed()) == rows()


def test_in_small_pieces_it_is_the_same_ledger() -> None:
    write(20)
    given_up()
    write(20)
    assert seal(now(), at_once=7).leaves == 40
    assert Checkpoint.objects.count() == 6
    assert set(sealed()) == rows()
    assert holds()


def test_nodes_are_kept_for_proofs() -> None:
    write(255)
    seal(now())
    write(2)
    seal(now())
    write(400)
    seal(now())
    assert holds()


def begun(act: Callable[..., None], *words: object, faults: list[BaseException]) -> threading.Thread:
    """Somebody at work on a connection of their own."""

    def run() -> None:
        try:
            act(*words)
        except BaseException as fault:
            faults.append(fault)
        finally:
            connection.close()

    thread = threading.Thread(target=run)
    thread.start()
    return thread


def writing(chance: random.Random, therapist: Staff, episodes: list[Episode]) -> None:
    """Somebody who records and looks, dawdles in the middle of a transaction, and often gives it up."""
    for number in range(25):
        if number % 5 == 0:
            recorded(therapist, chance.choice(episodes), an_attempt(at=ago(minutes=1)))
        with transaction.atomic():
            write(chance.randrange(1, 4))
            time.sleep(chance.random() * 0.02)
            transaction.set_rollback(chance.random() < 0.3)


def sealing_until(over: threading.Event) -> None:
    while not over.is_set():
        seal(now(), at_once=10)


@pytest.mark.slow
def test_many_writers_and_two_sealers_at_once() -> None:
    """Some give up, some hold a lower number while higher ones are sealed: every committed row once, and no other."""
    therapist = a_therapist()
    episodes = [an_episode(assigned_to=therapist) for _ in range(3)]
    over, faults = threading.Event(), list[BaseException]()
    sealers = [begun(sealing_until, over, faults=faults) for _ in range(2)]
    writers = [begun(writing, random.Random(n), therapist, episodes, faults=faults) for n in range(6)]
    for thread in writers:
        thread.join(120)
    over.set()
    for thread in sealers:
        thread.join(60)
    assert faults == []
    seal(now())
    assert set(sealed()) == rows()
    assert len(sealed()) == len(set(sealed())) > 300
    assert Checkpoint.objects.count() > 3
    assert gaps()
    assert holds()


def test_a_second_sealer_does_nothing_while_one_is_at_work() -> None:
    write()
    url, name = os.environ["DATABASE_URL"], str(connection.settings_dict["NAME"])
    with psycopg.connect(url, dbname=name) as other:
        other.execute("SELECT pg_advisory_xact_lock(%s)", [sealing._ONE_AT_A_TIME])
        assert seal(now()).busy
        assert sealed() == []
    assert seal(now()).leaves == 1


NEXT = "nextval('clinic_trailrow_number_seq')"


def copied(source: str, **changed: str) -> None:
    """A row like the newest one, but for some columns, put in by the superuser. Values are SQL."""
    with behind() as other:
        names = "SELECT column_name FROM information_schema.columns WHERE table_name = %s AND is_generated = 'NEVER'"
        columns = [str(name) for (name,) in other.execute(names, [source]).fetchall()]
        values = ", ".join(changed.get(column, column) for column in columns)
        newest = f"SELECT {values} FROM {source} ORDER BY number DESC LIMIT 1"
        other.execute(f"INSERT INTO {source} ({', '.join(columns)}) {newest}")


@pytest.mark.parametrize("mac", ["mac", "sha256(leaf)", r"'\x00' || substr(mac, 2)"], ids=["another's", "any", "near"])
@pytest.mark.parametrize("leaf", ["leaf", r"sha256('\x01')"], ids=["same leaf", "any leaf"])
def test_a_row_that_the_superuser_slips_in_is_never_sealed_and_raises_an_alarm_once(leaf: str, mac: str) -> None:
    write(2)
    seal(now())
    copied("clinic_trailrow", number=NEXT, leaf=leaf, mac=mac)
    (slipped,) = rows() - set(sealed())
    assert (seal(now()).refused, sealed().count(slipped)) == (1, 0)
    alarm = Alarm.objects.get()
    assert (alarm.kind, "clinic_trailrow" in alarm.text, str(slipped[1]) in alarm.text) == (
        "ledger.slipped_in",
        True,
        True,
    )
    with connection.cursor() as cursor:  # the programme's next numbers lie behind it
        cursor.execute("SELECT nextval('clinic_trailrow_number_seq')")
    settle(alarm.key, actor=None, at=now(), text="Looked at.")
    write(2)
    assert seal(now()).leaves >= 2
    assert seal(now()).refused == 0, "told already"
    assert slipped not in sealed()
    assert (TRAIL.code, slipped[1], slipped[1], True) in gaps()
    assert Alarm.objects.count() == 1


@pytest.mark.parametrize("mac", ["mac", "sha256(leaf)", r"'\x00' || substr(mac, 2)"], ids=["another's", "any", "near"])
def test_a_row_with_the_right_leaf_is_still_refused_for_its_mac(mac: str) -> None:
    """Anybody can work a leaf out from the columns; only whoever has the key can make its MAC."""
    write(2)
    seal(now())
    copied("clinic_trailrow", number=NEXT, mac=mac)
    (slipped,) = rows() - set(sealed())
    with behind() as other:
        right = f"sha256('\\x00'::bytea || convert_to({TRAIL.sql()}, 'UTF8'))"
        other.execute(f"UPDATE clinic_trailrow SET leaf = {right} WHERE number = %s", (slipped[1],))
    assert (seal(now()).refused, sealed().count(slipped)) == (1, 0)


def test_a_row_slipped_into_the_past_is_found_in_the_gap_where_it_was_put() -> None:
    write()
    given_up()
    write()
    seal(now())
    ((_, hole, _, _),) = gaps()
    copied("clinic_trailrow", number=str(hole), at="at - interval '1 year'")
    assert seal(now()).refused == 1
    assert (TRAIL.code, hole) not in sealed()
    assert str(hole) in Alarm.objects.get().text


@pytest.mark.parametrize(
    "change",
    ["at = at - interval '1 day'", "verb = 'test.undone'", "detail_text = '{}'", "actor_id = gen_random_uuid()"],
)
def test_a_row_that_is_changed_before_it_is_sealed_is_found_by_the_sealer(change: str) -> None:
    write(2)
    with behind() as other:
        other.execute(f"UPDATE clinic_trailrow SET {change} WHERE number = 1")
    assert (seal(now()).refused, sealed()) == (1, [(TRAIL.code, 2)])


def test_facts_slipped_in_are_told_apart_from_trail() -> None:
    therapist = a_therapist()
    recorded(therapist, an_episode(assigned_to=therapist), an_attempt(at=ago(minutes=1)))
    seal(now())
    copied("checklists_entry", number="number + 5", id="gen_random_uuid()", kind="'sign_off'")
    copied("checklists_entry", number="number + 1", id="gen_random_uuid()", kind="'sign_off'")
    assert seal(now()).refused == 2
    assert "2 rows of checklists_entry" in Alarm.objects.get().text
    assert {source for source, _, _, slipped in gaps() if slipped} == {ENTRY.code}


def test_a_crash_in_the_middle_of_a_piece_leaves_nothing_of_it(monkeypatch: pytest.MonkeyPatch) -> None:
    write(3)
    given_up()
    write()
    seal(now())
    before, holes = sealed(), gaps()
    write(3)
    given_up()
    write()

    def crash(*_: Any) -> None:
        raise SystemError("the power went")

    with monkeypatch.context() as patch:
        patch.setattr(sealing, "sign", crash)
        with pytest.raises(SystemError):
            seal(now())
    assert (sealed(), gaps()) == (before, holes)
    assert seal(now()).leaves == 4
    assert set(sealed()) == rows()
    assert holds()


def test_a_crash_before_the_file_is_written_is_made_good_by_the_next_run(monkeypatch: pytest.MonkeyPatch) -> None:
    write()

    def full(note: str) -> None:
        raise OSError("no space left")

    with monkeypatch.context() as patch:
        patch.setattr(memory, "append", full)
        with pytest.raises(OSError, match="no space"):
            seal(now())
    assert not Beat.objects.filter(name="seal").exists(), "nobody may think that all is well"
    assert memory.last_note() == ""
    seal(now())
    assert memory.last_note() == Checkpoint.objects.get().note
    assert Beat.objects.filter(name="seal").exists()


def test_a_note_cut_short_in_the_file_is_not_taken_for_one() -> None:
    write()
    seal(now())
    whole = memory.last_note()
    with memory.path().open("ab") as file:
        file.write(whole.encode()[:40])
    assert memory.last_note() == whole
    write()
    seal(now())
    assert memory.last_note() == Checkpoint.objects.latest("number").note


def test_a_sealer_that_would_not_see_every_row_does_not_say_that_all_is_well() -> None:
    write()
    with standing.standing_as(standing.NOBODY), pytest.raises(RuntimeError, match="every row"):
        seal(now())
    assert not Beat.objects.filter(name="seal").exists()


def test_the_worker_seals_and_tells(settings: Any) -> None:
    write()
    settings.LEDGER_WITNESSES = []
    with standing.standing_as(standing.NOBODY):
        seal_ledger()
    assert set(sealed()) == rows()
    assert OutboxRow.objects.get(topic="checkpoint.made").done_at is not None


def test_sealing_by_command(ledger: Path, capsys: pytest.CaptureFixture[str]) -> None:
    from django.core.management import call_command

    write(2)
    call_command("seal_ledger")
    assert "2 rows sealed; the ledger has 2 leaves." in capsys.readouterr().out
    assert TrailRow.objects.count() == len(sealed())
