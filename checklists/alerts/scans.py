"""What the passing of time alone brings: deadlines that went by, alerts that nobody answered. One statement each, over
partial indexes.

Run as often and as many at a time as anybody likes: each thing is found once. An episode that is just being written is
left for the next scan.
"""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from typing import Any

from django.conf import settings
from django.db import connection

MOST = 10_000

_DEADLINES = """
WITH due AS (
    SELECT d.id, d.episode_id, d.rule, d.entry, d.at, d.severity
    FROM checklists_deadline d JOIN checklists_head h ON h.episode_id = d.episode_id
    WHERE d.due_at < %(now)s AND d.met_at IS NULL AND d.reported_at IS NULL
    ORDER BY d.due_at LIMIT %(most)s FOR NO KEY UPDATE OF d, h SKIP LOCKED
), marked AS (
    UPDATE checklists_deadline d SET reported_at = %(now)s FROM due WHERE d.id = due.id
), raised AS (
    INSERT INTO checklists_alert (id, episode_id, rule, entry, severity, by_rule, happened_at, known_at, open)
    SELECT gen_random_uuid(), episode_id, rule, entry, severity, true, at, %(now)s, true FROM due
    ON CONFLICT (episode_id, rule, entry) DO UPDATE SET open = true, known_at = excluded.known_at, withdrawn_at = NULL,
        withdrawn_with = NULL, acknowledged_at = NULL, acknowledged_by_id = NULL, escalated_at = NULL
        WHERE NOT checklists_alert.open
    RETURNING id, episode_id, rule, entry, xmax = 0 AS fresh
), steps AS (
    INSERT INTO checklists_alertstep (alert_id, kind, at, text)
    SELECT id, CASE WHEN fresh THEN 'raised' ELSE 'raised_again' END, %(now)s, '' FROM raised
), told AS (
    INSERT INTO clinic_outboxrow (topic, payload, dedupe_key, created_at, due_at, attempts, last_error)
    SELECT 'alert.raised',
        jsonb_build_object('episode', episode_id, 'alerts', jsonb_build_array(jsonb_build_array(rule, entry))),
        'alert.raised:' || id || ':' || extract(epoch FROM %(now)s::timestamptz), %(now)s, %(now)s, 0, '' FROM raised
)
SELECT count(*) FROM raised
"""

_ESCALATION = """
WITH late AS (
    UPDATE checklists_alert SET escalated_at = %(now)s
    WHERE open AND acknowledged_at IS NULL AND escalated_at IS NULL AND known_at <= %(now)s - CASE severity
        WHEN 'critical' THEN %(critical)s WHEN 'major' THEN %(major)s ELSE %(minor)s END * interval '1 minute'
    RETURNING id
), steps AS (
    INSERT INTO checklists_alertstep (alert_id, kind, at, text) SELECT id, 'escalated', %(now)s, '' FROM late
), told AS (
    INSERT INTO clinic_outboxrow (topic, payload, dedupe_key, created_at, due_at, attempts, last_error)
    SELECT 'alert.escalated', jsonb_build_object('alert', id),
        'alert.escalated:' || id || ':' || extract(epoch FROM %(now)s::timestamptz), %(now)s, %(now)s, 0, '' FROM late
)
SELECT count(*) FROM late
"""


def scan_deadlines(at: datetime, *, most: int = MOST) -> int:
    """Raise the alert of every deadline that has gone by unmet; returns how many were raised."""
    return _count(_DEADLINES, {"now": at, "most": most})


def escalate_alerts(at: datetime) -> int:
    """Put alerts that nobody answered within the clinic's time before the leads; returns how many."""
    return _count(_ESCALATION, {"now": at, **settings.ESCALATE_AFTER_MINUTES})


def _count(statement: str, values: Mapping[str, Any]) -> int:
    with connection.cursor() as cursor:
        cursor.execute(statement, values)
        row = cursor.fetchone()
    return int(row[0]) if row else 0
