"""A row's number is part of its leaf, so that it is taken before the row is written: in the order of the lock, and only
for what will be written."""

from __future__ import annotations

import threading
import time

import pytest
from django.db import connection, transaction

from checklists.models import Entry
from checklists.record.lock import lock
from clinic.ledger.seal import seal
from clinic.models import TrailRow
from tests.ledger.hands import gaps, rows, sealed
from tests.makers import a_therapist, ago, an_attempt, an_episode, now, recorded

pytestmark = pytest.mark.usefixtures("ledger")


def next_number(table: str) -> int:
    with connection.cursor() as cursor:
        cursor.execute(f"SELECT nextval('{table}_number_seq')")
        return int(cursor.fetchone()[0])


def test_whoever_waits_for_the_lock_takes_the_number_after_the_wait() -> None:
    therapist = a_therapist()
    episode = an_episode(assigned_to=therapist)
    waits = threading.Event()

    def second() -> None:
        waits.set()
        recorded(therapist, episode, an_attempt(at=ago(minutes=1)))
        connection.close()

    thread = threading.Thread(target=second)
    with transaction.atomic():
        lock(therapist, episode.pk, [])
        thread.start()
        waits.wait(30)
        while not _somebody_waits():
            time.sleep(0.01)
        others = next_number("checklists_entry")
        with connection.cursor() as cursor:  # as every writer does
            cursor.execute("UPDATE checklists_head SET entries = entries WHERE episode_id = %s", [episode.pk])
    thread.join(30)
    assert Entry.objects.latest("number").number > others


def _somebody_waits() -> bool:
    with connection.cursor() as cursor:
        cursor.execute("SELECT count(*) FROM pg_locks WHERE NOT granted")
        return bool(cursor.fetchone()[0])


def test_sending_the_same_again_gives_up_no_number() -> None:
    therapist = a_therapist()
    episode = an_episode(assigned_to=therapist)
    facts = [an_attempt(at=ago(minutes=9 - n)) for n in range(3)]
    recorded(therapist, episode, *facts)
    before = Entry.objects.latest("number").number
    for _ in range(4):
        recorded(therapist, episode, *facts)
    recorded(therapist, episode, an_attempt(at=ago(minutes=1)))
    assert Entry.objects.latest("number").number == before + 1
    seal(now())
    assert gaps() == []


def test_several_facts_of_one_call_bear_their_numbers_in_the_order_given() -> None:
    therapist = a_therapist()
    episode = an_episode(assigned_to=therapist)
    facts = [an_attempt(at=ago(minutes=20 - n)) for n in range(12)]
    recorded(therapist, episode, *facts)
    ids = [str(one) for one in Entry.objects.filter(kind="attempt").order_by("number").values_list("id", flat=True)]
    assert ids == [fact["id"] for fact in facts]
    seal(now())
    assert set(sealed()) == rows()
    assert [gap for gap in gaps() if gap[0] == 1] == []
    assert TrailRow.objects.count() > 0
