"""What the entries say, against what was committed to when they were recorded. Part of every verification."""

from __future__ import annotations

from collections.abc import Callable
from hashlib import sha256

from django.db import connection

from clinic.ledger.verify.findings import Kind, Report
from clinic.ledger.verify.rows import Part, streamed

_CONTENTS = """
SELECT t.number, t.commitment, c.salt || convert_to(c.body, 'UTF8')
FROM checklists_entry t LEFT JOIN checklists_entrycontent c ON c.entry_id = t.id {where}
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

_PLACES = "SELECT number, position FROM clinic_ledgerleaf WHERE source = 1 AND number = ANY (%s)"


def verify_contents(part: Part, report: Report, tick: Callable[[int], None]) -> None:
    """Every content against its commitment; where one is gone, a confirmed erasure must account for it."""
    gone, changed = set[int](), set[int]()
    sealed = "LEFT JOIN clinic_ledgerleaf l ON l.source = 1 AND l.number = t.number WHERE"
    where = f"{sealed} {part.where}" if part.where else ""
    for rows in streamed(_CONTENTS.format(where=where), part.values):
        for number, commitment, said in rows:
            if said is None:
                gone.add(number)
            elif sha256(said).digest() != commitment:
                changed.add(number)
        tick(len(rows))
    with connection.cursor() as cursor:
        if gone:
            cursor.execute(_ERASED, [list(gone)])
            gone -= {number for (number,) in cursor.fetchall()}
        cursor.execute(_PLACES, [list(gone | changed)])
        places = dict(cursor.fetchall())
    for kind, numbers in ((Kind.CONTENT_CHANGED, changed), (Kind.CONTENT_GONE, gone)):
        for number in sorted(numbers):
            report.add(kind, f"entry number {number}", places.get(number))
