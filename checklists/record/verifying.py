"""What the entries say, against what was committed to when they were recorded. Part of every verification."""

from __future__ import annotations

from collections.abc import Callable
from hashlib import sha256

from django.db import connection

from clinic.ledger.verify.findings import Kind, Report
from clinic.ledger.verify.rows import Part, streamed

_CONTENTS = """
SELECT t.number, t.commitment, convert_to(c.body, 'UTF8'), c.salt, l.position
FROM checklists_entry t LEFT JOIN checklists_entrycontent c ON c.entry_id = t.id
    LEFT JOIN clinic_ledgerleaf l ON l.source = 1 AND l.number = t.number {where}
"""
# Whose record was erased, as the trail accounts for it: two people, and the function that did it.
_ERASED = """
SELECT t.number FROM checklists_entry t JOIN caseload_episode e ON e.id = t.episode_id
WHERE t.number = ANY (%s) AND EXISTS (
    SELECT FROM checklists_erasure a JOIN checklists_erasuredecision d ON d.erasure_id = a.id AND d.confirmed
        JOIN checklists_erased x ON x.erasure_id = a.id
        JOIN clinic_trailrow r ON r.subject_id = a.id::text AND r.verb IN ('erasure.confirmed', 'erasure.reapplied')
    WHERE a.person_id = e.person_id AND d.decided_by_id <> a.asked_by_id)
"""


def verify_contents(part: Part, report: Report, tick: Callable[[int], None]) -> None:
    """Every content against its commitment; where one is gone, a confirmed erasure must account for it."""
    gone: dict[int, int | None] = {}
    where = f"WHERE {part.where}" if part.where else ""
    for rows in streamed(_CONTENTS.format(where=where), part.values):
        for number, commitment, body, salt, position in rows:
            if body is None:
                gone[number] = position
            elif sha256(salt + body).digest() != commitment:
                report.add(Kind.CONTENT_CHANGED, f"entry number {number}", position)
        tick(len(rows))
    if gone:
        with connection.cursor() as asked:
            asked.execute(_ERASED, [list(gone)])
            for (number,) in asked.fetchall():
                del gone[number]
    for number, position in gone.items():
        report.add(Kind.CONTENT_GONE, f"entry number {number}", position)
