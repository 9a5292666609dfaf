"""The outbox: at least once, never lost, tried again later and later, by any number of workers at once."""

from __future__ import annotations

import threading
from datetime import timedelta
from typing import Any

import pytest
from django.db import connection, transaction

from clinic import clock
from clinic.celery import app
from clinic.outbox import drain as draining
from clinic.outbox import routes
from clinic.outbox.drain import drain, lease, wait_after
from clinic.outbox.models import OutboxRow
from clinic.outbox.post import publish
from clinic.outbox.purge import purge
from tests.makers import now

HEARD: list[str] = []


def hear(payload: Any, at: Any) -> Any:
    HEARD.append(payload["word"])


def stumble(payload: Any, at: Any) -> Any:
    raise RuntimeError("the mail server is away")


@pytest.fixture(autouse=True)
def _routes(monkeypatch: pytest.MonkeyPatch) -> Any:
    HEARD.clear()
    monkeypatch.setattr(draining, "handlers_of", lambda topic: {"said": [hear], "lost": [stumble]}[topic])


def say(word: str, topic: str = "said") -> None:
    publish(topic, {"word": word}, at=clock.now(), dedupe_key=f"{topic}:{word}")


@pytest.mark.django_db
def test_news_is_handled_and_marked() -> None:
    say("hello")
    assert (drain(), HEARD, OutboxRow.objects.get().done_at is None) == (1, ["hello"], False)


@pytest.mark.django_db
def test_the_same_news_is_published_once() -> None:
    say("hello")
    say("hello")
    assert (drain(), HEARD) == (1, ["hello"])


@pytest.mark.django_db
def test_news_of_a_transaction_that_failed_is_no_news() -> None:
    def fail() -> None:
        with transaction.atomic():
            say("hello")
            raise RuntimeError

    with pytest.raises(RuntimeError):
        fail()
    assert drain() == 0


@pytest.mark.django_db
def test_what_fails_is_kept_with_the_reason_and_tried_again_later() -> None:
    say("hello", "lost")
    assert drain() == 0
    row = OutboxRow.objects.get()
    assert (row.done_at, row.attempts, row.last_error) == (None, 1, "RuntimeError")  # its text may name somebody
    assert timedelta() < row.due_at - clock.now() <= timedelta(seconds=2)


@pytest.mark.django_db
def test_one_that_fails_does_not_hold_up_the_others() -> None:
    say("first", "lost")
    say("second")
    assert (drain(), HEARD) == (1, ["second"])


@pytest.mark.django_db
def test_news_that_nobody_hears_is_not_lost_either(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(draining, "handlers_of", routes.handlers_of)
    say("hello", "unheard.of")
    assert drain() == 0
    assert OutboxRow.objects.get().last_error == "LookupError"


def test_waits_double_to_an_hour() -> None:
    waits = [wait_after(attempts).total_seconds() for attempts in (1, 2, 3, 11, 12, 13, 1_000)]
    assert waits == [2, 4, 8, 2_048, 3_600, 3_600, 3_600]


@pytest.mark.django_db
def test_a_lease_keeps_others_away_until_it_ends(settings: Any) -> None:
    say("hello")
    now = clock.now()
    assert [len(lease(at)) for at in (now, now, now + timedelta(seconds=settings.OUTBOX_LEASE_SECONDS + 1))] == [
        1,
        0,
        1,
    ]


@pytest.mark.django_db(transaction=True)
def test_many_workers_at_once_handle_each_piece_once() -> None:
    for number in range(60):
        say(str(number))

    def work() -> Any:
        drain()
        connection.close()

    workers = [threading.Thread(target=work) for _ in range(4)]
    for one in workers:
        one.start()
    for one in workers:
        one.join(60)
    assert sorted(HEARD, key=int) == [str(number) for number in range(60)]


@pytest.mark.django_db(transaction=True)
def test_a_broker_that_is_down_does_not_undo_what_is_committed(
    monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    def down(*args: Any, **options: Any) -> Any:
        raise ConnectionError

    monkeypatch.setattr(app, "send_task", down)
    say("hello")
    assert OutboxRow.objects.count() == 1
    assert "no worker could be woken" in caplog.text


@pytest.mark.django_db(transaction=True)
def test_a_worker_is_woken_once_for_one_transaction(monkeypatch: pytest.MonkeyPatch) -> None:
    woken = []
    monkeypatch.setattr(app, "send_task", lambda name, **options: woken.append(name))
    with transaction.atomic():
        say("one")
        say("two")
    assert woken == ["clinic.tasks.drain_outbox"]


def test_every_route_leads_to_a_handler() -> None:
    assert all(callable(one) for topic in routes.ROUTES for one in routes.handlers_of(topic))


@pytest.mark.django_db
def test_what_was_told_more_than_thirty_days_ago_goes_and_what_waits_stays() -> None:
    at = now()
    ages = {"old": 31, "young": 29}
    for key, days in ages.items():
        OutboxRow.objects.create(
            topic="x.y", payload={}, dedupe_key=key, created_at=at, due_at=at, done_at=at - timedelta(days=days)
        )
    long_ago = at - timedelta(days=400)
    OutboxRow.objects.create(topic="x.y", payload={}, dedupe_key="waits", created_at=long_ago, due_at=long_ago)
    assert purge(at) == 1
    assert set(OutboxRow.objects.values_list("dedupe_key", flat=True)) == {"young", "waits"}
