"""Emptying the outbox: lease a few rows, handle each outside any transaction, mark it. At least once, by any number of
workers.

A worker that dies leaves its lease to run out; another then takes the row. A handler that fails is asked again, after
twice as long each time, up to an hour.
"""

from __future__ import annotations

import logging
from collections.abc import Mapping
from datetime import datetime, timedelta
from typing import Any, NamedTuple

import orjson
from django.conf import settings
from django.db import connection

from clinic import clock
from clinic.logs import described
from clinic.outbox.models import OutboxRow
from clinic.outbox.routes import handlers_of
from clinic.watch.beats import beat

log = logging.getLogger(__name__)
FIRST_WAIT = timedelta(seconds=2)
LONGEST_WAIT = timedelta(hours=1)
AT_ONCE = 10

_LEASE = """
UPDATE clinic_outboxrow SET leased_until = %(until)s, attempts = attempts + 1
WHERE number IN (
    SELECT number FROM clinic_outboxrow
    WHERE done_at IS NULL AND due_at <= %(now)s AND (leased_until IS NULL OR leased_until < %(now)s)
    ORDER BY due_at, number LIMIT %(limit)s FOR UPDATE SKIP LOCKED)
RETURNING number, topic, payload::text, attempts
"""


class Leased(NamedTuple):
    """A row that is this worker's until its lease ends."""

    number: int
    topic: str
    payload: Mapping[str, Any]
    attempts: int


def drain(*, most: int = 1_000) -> int:
    """Handle what is due, `most` rows at most, and return how many were handled well."""
    done = taken = 0
    while taken < most:
        rows = lease(clock.now())
        if not rows:
            break
        taken += len(rows)
        done += sum(handle(row) for row in rows)
    if not clock.is_set():  # a simulated day is no sign of life
        beat("outbox", clock.now(), every=5)
    return done


def lease(at: datetime, limit: int = AT_ONCE) -> list[Leased]:
    """Take rows that are due and that nobody holds."""
    until = at + timedelta(seconds=settings.OUTBOX_LEASE_SECONDS)
    with connection.cursor() as cursor:
        cursor.execute(_LEASE, {"now": at, "until": until, "limit": limit})
        rows = [
            Leased(number, topic, orjson.loads(payload), tries) for number, topic, payload, tries in cursor.fetchall()
        ]
    return sorted(rows, key=lambda row: row.number)


def handle(row: Leased) -> bool:
    """Handle one row and mark it; a failure is kept with its reason and tried again later."""
    at = clock.now()
    try:
        for handler in handlers_of(row.topic):
            handler(row.payload, at)
    except Exception as fault:  # whatever it is, the row must not be lost
        log.warning("outbox row %s (%s) failed: %s", row.number, row.topic, fault)
        OutboxRow.objects.filter(pk=row.number).update(
            due_at=clock.now() + wait_after(row.attempts),
            leased_until=None,
            last_error=described(fault)[:400],
        )
        return False
    OutboxRow.objects.filter(pk=row.number).update(done_at=clock.now(), leased_until=None, last_error="")
    return True


def wait_after(attempts: int) -> timedelta:
    """How long to wait after so many attempts: two seconds, doubling to an hour."""
    return min(FIRST_WAIT * (1 << min(attempts - 1, 20)), LONGEST_WAIT)
