"""The board of whoever carries or covers somebody now, as JSON, from one SQL statement over projections.

Nothing is folded here: what a row says of skills and knees was worked out when the last fact was recorded. It is put
into the answer as the text that the database holds: a board of forty people is neither parsed nor built anew.
"""

from __future__ import annotations

from datetime import datetime

import orjson
from django.db import connection
from psycopg import Cursor

from clinic import access, clock
from clinic.access import Action, Scope
from clinic.staff.models import Staff

MOST = 500
NAMES = (
    "episode", "reference", "number", "name", "side", "site", "therapist", "next_visit", "last_at", "stale_at",
    "alerts", "critical", "overdue_reviews", "open_requests", "board",
)  # fmt: skip  # a list of words

# Which episodes a reach takes in.
_WHERE = {
    Scope.OWN: "id = ANY(ARRAY(SELECT episode_id FROM mine WHERE period @> %(at)s))",
    Scope.SITE: "site_id = %(site)s",
    Scope.ALL: "true",
}
# The size of the clinic must not show. So the episodes are chosen first, by what is rare (who carries them, not whether
# a period holds now, as nearly all do); for each of them everything else is looked up by its key (OFFSET 0
# keeps the planner from doing it the other way round).
_BOARD = """
WITH mine AS MATERIALIZED (
    SELECT episode_id, period FROM caseload_assignment WHERE staff_id = %(staff)s UNION ALL
    SELECT episode_id, period FROM caseload_cover WHERE staff_id = %(staff)s
), e AS MATERIALIZED (
    SELECT * FROM (SELECT * FROM caseload_episode WHERE {reach} OFFSET 0) x WHERE closed_at IS NULL)
SELECT e.id::text, e.reference, p.number, coalesce(nullif(p.called, ''), p.given_name) || ' ' || p.family_name, e.side,
    s.name, c.name, v.starts_at, h.last_at, h.stale_at, coalesce(a.n, 0), coalesce(a.critical, 0), coalesce(r.n, 0),
    coalesce(q.n, 0), h.board::text
FROM e
JOIN LATERAL (SELECT * FROM caseload_person WHERE id = e.person_id LIMIT 1) p ON true
JOIN LATERAL (SELECT * FROM clinic_site WHERE id = e.site_id LIMIT 1) s ON true
JOIN LATERAL (SELECT * FROM checklists_head WHERE episode_id = e.id LIMIT 1) h ON true
LEFT JOIN LATERAL (SELECT t.name FROM (SELECT * FROM caseload_assignment WHERE episode_id = e.id OFFSET 0) x
    JOIN clinic_staff t ON t.id = x.staff_id WHERE x.period @> %(at)s LIMIT 1) c ON true
LEFT JOIN LATERAL (SELECT min(starts_at) AS starts_at FROM caseload_visit
    WHERE episode_id = e.id AND state = 'planned' AND starts_at >= %(today)s) v ON true
LEFT JOIN LATERAL (SELECT count(DISTINCT entry) AS n,
        count(DISTINCT entry) FILTER (WHERE severity = 'critical') AS critical
    FROM checklists_alert WHERE episode_id = e.id AND open AND acknowledged_at IS NULL) a ON true
LEFT JOIN LATERAL (SELECT count(*) AS n FROM caseload_plannedreview
    WHERE episode_id = e.id AND done_at IS NULL AND cancelled_at IS NULL AND due_on < %(day)s) r ON true
LEFT JOIN LATERAL (SELECT count(*) AS n FROM caseload_adjustmentrequest
    WHERE episode_id = e.id AND state IN ('asked', 'seen')) q ON true
ORDER BY v.starts_at NULLS LAST, p.family_name, e.reference LIMIT %(most)s
"""


def board_statement(actor: Staff, at: datetime) -> tuple[str, dict[str, object]]:
    """The statement for how far the reader's permission reaches, and what it asks."""
    scope = access.permit(actor, Action.SEE_PERSON, at)
    zone = actor.site.time_zone
    day = clock.local_day(at, zone)
    asked = {"staff": actor.pk, "site": actor.site_id, "at": at, "day": day, "most": MOST}
    return _BOARD.format(reach=_WHERE[scope]), asked | {"today": clock.day_starts(day, zone)}


def board_json(actor: Staff, *, at: datetime) -> bytes:
    """The board as JSON: {"as_of": …, "people": [{"episode": …, …, "board": {…}}, …]}, soonest session first."""
    connection.ensure_connection()
    with connection.wrap_database_errors, Cursor(connection.connection) as cursor:
        cursor.execute(*board_statement(actor, at), prepare=True)
        rows = cursor.fetchall()
    people = [{**dict(zip(NAMES, row, strict=True)), "board": orjson.Fragment(row[-1])} for row in rows]
    return orjson.dumps({"as_of": at, "people": people})
