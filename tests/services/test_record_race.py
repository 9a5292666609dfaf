"""The worker's clock and a late review at the same moment: whoever comes first, the outcome is that of a replay."""

from __future__ import annotations

import random
import threading
import time
from collections.abc import Callable
from typing import Any

import pytest
from django.db import connection, transaction

from caseload.models import Episode
from checklists.alerts.models import Alert
from checklists.alerts.scans import scan_deadlines
from checklists.episode.services import close_episode
from checklists.models import Head
from checklists.record.checking import differences
from checklists.record.stale import refresh_stale_boards
from clinic.models import Staff
from tests.makers import (
    a_check,
    a_fall,
    a_therapist,
    ago,
    an_assistant,
    an_attempt,
    an_entry,
    an_episode,
    now,
    recorded,
)

pytestmark = [pytest.mark.django_db(transaction=True), pytest.mark.slow]


def at_once(*acts: Callable[[], object]) -> None:
    """Do these at the same moment, each on a connection of its own."""
    start, faults = threading.Barrier(len(acts)), []

    def run(act: Callable[[], object]) -> None:
        try:
            start.wait(10)
            act()
        except Exception as fault:
            faults.append(fault)
        finally:
            connection.close()

    threads = [threading.Thread(target=run, args=(act,)) for act in acts]
    for one in threads:
        one.start()
    for one in threads:
        one.join(60)
    assert faults == []


def test_a_review_that_arrives_while_the_scan_runs_leaves_no_alert_behind() -> None:
    therapist = a_therapist()
    for _ in range(8):
        episode = an_episode(assigned_to=therapist)
        fall = a_fall(at=ago(days=4, hours=1))
        recorded(therapist, episode, fall)
        review = an_entry("review", at=ago(days=1), of=[fall["id"]], outcome="cleared")
        at_once(lambda: scan_deadlines(now()), lambda e=episode, r=review: recorded(therapist, e, r))  # type: ignore[misc]  # mypy cannot infer a lambda with defaults
        at = now()
        scan_deadlines(at)
        refresh_stale_boards(at)
        assert differences(episode.pk, episode.reference, at) == []
    assert not Alert.objects.filter(open=True, rule="fall_unreviewed").exists()


def test_two_scans_at_once_raise_once() -> None:
    therapist = a_therapist()
    for _ in range(6):
        recorded(therapist, an_episode(assigned_to=therapist), a_fall(at=ago(days=5)))
    found: list[int] = []
    at_once(*[lambda: found.append(scan_deadlines(now()))] * 4)
    assert sum(found) + scan_deadlines(now()) == 6
    assert Alert.objects.filter(rule="fall_unreviewed").count() == 6


def test_a_discharge_waits_for_whoever_writes_and_neither_waits_for_the_other() -> None:
    """The write path holds the head and then changes the episode; a discharge that held the episode first would meet it
    half-way."""
    therapist = a_therapist()
    episode = an_episode(assigned_to=therapist)
    faults: list[Exception] = []

    def discharge() -> None:
        try:
            close_episode(actor=therapist, episode_id=episode.pk)
        except Exception as fault:
            faults.append(fault)
        finally:
            connection.close()

    other = threading.Thread(target=discharge)
    with transaction.atomic(), connection.cursor() as cursor:
        list(Head.objects.select_for_update(no_key=True).filter(episode=episode))
        other.start()
        _until_somebody_waits()
        cursor.execute("SET LOCAL lock_timeout = '2s'")
        Episode.objects.filter(pk=episode.pk).update(features=["lock"])
    other.join(30)
    assert faults == []
    assert Episode.objects.get(pk=episode.pk).closed_at is not None


def _until_somebody_waits() -> None:
    """Until another connection to this database waits for a lock."""
    ends = time.monotonic() + 20
    while time.monotonic() < ends:
        with connection.cursor() as cursor:
            cursor.execute("SELECT count(*) FROM pg_locks WHERE NOT granted")
            if cursor.fetchone() != (0,):
                return
        time.sleep(0.05)
    raise AssertionError("nobody waits")


def test_two_tablets_at_one_person_leave_what_a_replay_gives() -> None:
    therapist, assistant = a_therapist(), an_assistant()
    for seed in range(2):
        episode = an_episode(assigned_to=therapist)
        facts = [a_fact_of(random.Random(seed * 100 + number)) for number in range(30)]

        def send(by: Staff, some: list[dict[str, Any]], to: Episode = episode) -> None:
            for fact in some:
                recorded(by, to, fact)

        at_once(lambda f=facts, s=send: s(therapist, f[::2]), lambda f=facts, s=send: s(assistant, f[1::2]))  # type: ignore[misc]  # mypy cannot infer a lambda with defaults
        at = now()
        scan_deadlines(at)
        refresh_stale_boards(at)
        assert differences(episode.pk, episode.reference, at) == []
        assert Head.objects.get(episode=episode).entries == 31
    assert Alert.objects.count() > 5


def a_fact_of(draw: random.Random) -> dict[str, Any]:
    """Something of the last three days, often earlier than what stands already."""
    at = ago(minutes=draw.randrange(1, 4_000))
    made: list[Callable[[], dict[str, Any]]] = [
        lambda: an_attempt(at=at, result=draw.choice(["safe", "unsafe"])),
        lambda: an_attempt("sit_stand", "none", help="alone", at=at),
        lambda: a_check(at=at),
        lambda: a_fall(at=at),
        lambda: an_entry("mode_set", at=at, mode=draw.choice(["walking", "locked"])),
    ]
    return draw.choice(made)()
