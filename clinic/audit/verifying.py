"""What is looked up in a row of the trail, against the text that the ledger holds. Part of every verification."""

from __future__ import annotations

from collections.abc import Callable

from django.db import connection

from clinic.ledger.verify.findings import Kind, Report
from clinic.ledger.verify.rows import Part

_OTHER = """
SELECT t.number, l.position FROM clinic_trailrow t LEFT JOIN clinic_ledgerleaf l ON l.source = 2 AND l.number = t.number
WHERE t.detail IS DISTINCT FROM t.detail_text::jsonb {where} ORDER BY t.number LIMIT 100
"""


def verify_details(part: Part, report: Report, tick: Callable[[int], None]) -> None:
    """The column for look-ups is made from the text by the database; somebody could have unmade that."""
    if not part.whole:
        return
    with connection.cursor() as cursor:
        cursor.execute(_OTHER.format(where=f"AND {part.where}" if part.where else ""), list(part.values))
        for number, position in cursor.fetchall():
            report.add(Kind.ROW_CHANGED, f"number {number} of clinic_trailrow: what is looked up in it", position)
