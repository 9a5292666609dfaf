"""`overdue_scan`: the scan for deadlines that went by, against the same change written by hand as one statement.

Each run finds the same number of deadlines among many that are met or lie ahead; between runs, and outside what is
measured, they are put back as they were.
"""

from __future__ import annotations

import uuid
from collections.abc import Callable
from datetime import datetime, timedelta
from functools import partial

from django.db import connection, transaction

from caseload.models import Episode
from checklists.alerts.scans import scan_deadlines
from checklists.record.models import Deadline
from checklists.speed.measure import Ratio, in_turns

RULE = "walking_mode_in_time"
FLOOR = """
WITH due AS (
    UPDATE checklists_deadline SET reported_at = %(now)s WHERE id IN (
        SELECT id FROM checklists_deadline WHERE due_at < %(now)s AND met_at IS NULL AND reported_at IS NULL)
    RETURNING episode_id, rule, entry, at, severity
), raised AS (
    INSERT INTO checklists_alert (id, episode_id, rule, entry, severity, by_rule, happened_at, known_at, open)
    SELECT gen_random_uuid(), episode_id, rule, entry, severity, true, at, %(now)s, true FROM due
    ON CONFLICT (episode_id, rule, entry) DO NOTHING RETURNING id, episode_id, rule, entry
), steps AS (
    INSERT INTO checklists_alertstep (alert_id, kind, at, text) SELECT id, 'raised', %(now)s, '' FROM raised
)
INSERT INTO clinic_outboxrow (topic, payload, dedupe_key, created_at, due_at, attempts, last_error)
SELECT 'alert.raised',
    jsonb_build_object('episode', episode_id, 'alerts', jsonb_build_array(jsonb_build_array(rule, entry))),
    'alert.raised:' || id, %(now)s, %(now)s, 0, '' FROM raised
"""
# No alert ever goes: the same number of deadlines, of other acts, is due again.
PUT_BACK = (
    "DELETE FROM clinic_outboxrow",
    "UPDATE checklists_deadline SET reported_at = NULL, entry = gen_random_uuid() WHERE reported_at IS NOT NULL",
)


def measure(at: datetime, *, pairs: int, others: int, due: int) -> Ratio:
    """`due` deadlines have gone by, among `others` that have been met or lie ahead."""
    _fill(at, others, due)
    return in_turns(
        partial(_found, due, partial(_floor, at)),
        partial(_found, due, partial(scan_deadlines, at)),
        pairs=pairs,
        before_each=_put_back,
    )


def _floor(at: datetime) -> int:
    with connection.cursor() as cursor:
        cursor.execute(FLOOR, {"now": at})
        return int(cursor.rowcount)


def _found(due: int, scan: Callable[[], int]) -> None:
    if scan() != due:
        raise RuntimeError("the scan did not find what was due")


def _fill(at: datetime, others: int, due: int) -> None:
    """Deadlines of three hours before; the first of them unmet, the rest met, and some still ahead."""
    episodes = list(Episode.objects.order_by("reference").values_list("pk", flat=True))
    rows = []
    for number in range(others + due):
        unmet, ahead = number < due, number % 50 == 0
        begins = at - timedelta(hours=4) if unmet or not ahead else at
        met = None if unmet or ahead else begins + timedelta(hours=1)
        rows.append(
            Deadline(
                episode_id=episodes[number % len(episodes)],
                rule=RULE,
                entry=uuid.UUID(int=number + 1),
                at=begins,
                due_at=begins + timedelta(hours=3),
                severity="critical",
                met_at=met,
            )
        )
    Deadline.objects.bulk_create(rows, batch_size=5_000)
    _put_back()


@transaction.atomic
def _put_back() -> None:
    with connection.cursor() as cursor:
        for statement in PUT_BACK:
            cursor.execute(statement)
