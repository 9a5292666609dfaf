"""The board of whoever carries or covers somebody now, as JSON, from one SQL statement over projections.

Nothing is folded here: what a row says of skills and knees was worked out when the last fact was recorded. It is put into
the answer as the text that the database holds: a board of forty people is neither parsed nor built anew.
"""

from __future__ import annotations

from datetime import datetime

import orjson
from django.db import connection
from psycopg import Cursor

from clinic import access, clock
from clinic.access import Action
from clinic.staff.models import Staff

MOST = 500
NAMES = (
    "episode", "reference", "number", "name", "side", "site", "therapist", "next_visit", "last_at", "stale_at",
    "alerts", "critical", "overdue_reviews", "open_requests", "board",
)  # fmt: skip

# `reach`: own (carried or covered by the reader now), site, all. Every condition meets an index.
BOARD = """
SELECT e.id::text, e.reference, p.number, coalesce(nullif(p.called, ''), p.given_name) || ' ' || p.family_name, e.side,
    s.name, t.name, v.starts_at, h.last_at, h.stale_at, coalesce(a.n, 0), coalesce(a.critical, 0), coalesce(r.n, 0),
    coalesce(q.n, 0), h.board::text
FROM caseload_episode e
JOIN caseload_person p ON p.id = e.person_id
JOIN clinic_site s ON s.id = e.site_id
JOIN checklists_head h ON h.episode_id = e.id
LEFT JOIN caseload_assignment c ON c.episode_id = e.id AND c.period @> %(at)s
LEFT JOIN clinic_staff t ON t.id = c.staff_id
LEFT JOIN LATERAL (SELECT min(starts_at) AS starts_at FROM caseload_visit
    WHERE episode_id = e.id AND state = 'planned' AND starts_at >= %(today)s) v ON true
LEFT JOIN LATERAL (SELECT count(DISTINCT entry) AS n,
        count(DISTINCT entry) FILTER (WHERE severity = 'critical') AS critical
    FROM checklists_alert WHERE episode_id = e.id AND open AND acknowledged_at IS NULL) a ON true
LEFT JOIN LATERAL (SELECT count(*) AS n FROM caseload_plannedreview
    WHERE episode_id = e.id AND done_at IS NULL AND cancelled_at IS NULL AND due_on < %(day)s) r ON true
LEFT JOIN LATERAL (SELECT count(*) AS n FROM caseload_adjustmentrequest
    WHERE episode_id = e.id AND state IN ('asked', 'seen')) q ON true
WHERE e.closed_at IS NULL AND (%(reach)s = 'all' OR (%(reach)s = 'site' AND e.site_id = %(site)s) OR e.id IN (
    SELECT episode_id FROM caseload_assignment WHERE staff_id = %(staff)s AND period @> %(at)s UNION ALL
    SELECT episode_id FROM caseload_cover WHERE staff_id = %(staff)s AND period @> %(at)s))
ORDER BY v.starts_at NULLS LAST, p.family_name, e.reference LIMIT %(most)s
"""


def board_parameters(actor: Staff, at: datetime) -> dict[str, object]:
    """What the statement asks: who reads, how far that reaches, and since when a session counts as to come."""
    scope = access.permit(actor, Action.SEE_PERSON, at)
    zone = actor.site.time_zone
    day = clock.local_day(at, zone)
    return {
        "reach": str(scope),
        "staff": actor.pk,
        "site": actor.site_id,
        "at": at,
        "day": day,
        "today": clock.day_starts(day, zone),
        "most": MOST,
    }


def board_json(actor: Staff, *, at: datetime) -> bytes:
    """The board as JSON: {"as_of": …, "people": [{"episode": …, …, "board": {…}}, …]}, soonest session first."""
    connection.ensure_connection()
    with connection.wrap_database_errors, Cursor(connection.connection) as cursor:
        cursor.execute(BOARD, board_parameters(actor, at), prepare=True)
        rows = cursor.fetchall()
    people = [{**dict(zip(NAMES, row, strict=True)), "board": orjson.Fragment(row[-1])} for row in rows]
    return orjson.dumps({"as_of": at, "people": people})
