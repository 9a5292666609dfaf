"""The ladder of reminders: due soon, due, overdue, escalated. Each rung of a review is reached once, whatever crashes
or runs twice."""

from __future__ import annotations

from datetime import datetime, timedelta

from django.db import connection

from caseload.review.due import DUE_SOON_DAYS, ESCALATED_DAYS

_SCAN = """
WITH open AS (
    SELECT r.id, r.episode_id, r.due_on, (%(now)s AT TIME ZONE s.time_zone)::date AS today
    FROM caseload_plannedreview r JOIN caseload_episode e ON e.id = r.episode_id JOIN clinic_site s ON s.id = e.site_id
    WHERE r.done_at IS NULL AND r.cancelled_at IS NULL AND r.due_on <= %(horizon)s AND e.closed_at IS NULL
), reached AS (
    INSERT INTO caseload_reminder (review_id, due_on, rung, reached_at)
    SELECT id, due_on, CASE WHEN today - due_on >= %(escalated)s THEN 'escalated' WHEN today > due_on THEN 'overdue'
        WHEN today = due_on THEN 'due' ELSE 'due_soon' END, %(now)s
    FROM open WHERE due_on - today <= %(soon)s
    ON CONFLICT (review_id, due_on, rung) DO NOTHING RETURNING review_id, due_on, rung
), told AS (
    INSERT INTO clinic_outboxrow (topic, payload, dedupe_key, created_at, due_at, attempts, last_error)
    SELECT 'review.reminded', jsonb_build_object('review', review_id, 'due_on', due_on, 'rung', rung),
        'review.reminded:' || review_id || ':' || due_on || ':' || rung, %(now)s, %(now)s, 0, '' FROM reached
    ON CONFLICT (dedupe_key) DO NOTHING
)
SELECT count(*) FROM reached
"""


def scan_reviews(at: datetime) -> int:
    """Note which rung every open review has reached, on its site's own day, and announce those that are new."""
    horizon = at.date() + timedelta(days=DUE_SOON_DAYS + 1)
    with connection.cursor() as cursor:
        cursor.execute(_SCAN, {"now": at, "horizon": horizon, "soon": DUE_SOON_DAYS, "escalated": ESCALATED_DAYS})
        row = cursor.fetchone()
    return int(row[0]) if row else 0
