"""The trail taken out of the house: itself a row of the trail."""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Iterator, Sequence

from django.db import transaction

from clinic import access, clock
from clinic.access import Action
from clinic.audit import trail
from clinic.audit.models import TrailRow
from clinic.audit.selectors import Wanted, trail_rows
from clinic.staff.models import Staff

COLUMNS = ("number", "at", "actor", "name", "verb", "subject", "subject_id", "episode", "origin", "detail")
_RISKY = ("=", "+", "-", "@", "\t", "\r")


def export_trail(*, actor: Staff, wanted: Wanted) -> Iterator[str]:
    """The rows that match as lines of CSV, newest first. That they were taken, and which, is written down first."""
    at = clock.now()
    with transaction.atomic(durable=True):
        access.permit(actor, Action.SEE_TRAIL, at)
        asked = {name: str(value) for name in Wanted.__slots__ if (value := getattr(wanted, name))}
        trail.record(actor, "trail.exported", "trail", "csv", at=at, detail={"filter": asked})
    return _lines(trail_rows(actor, wanted, at=at))


def _lines(rows: Iterator[TrailRow]) -> Iterator[str]:
    yield _line(COLUMNS)
    for row in rows:
        yield _line(
            [
                row.number,
                row.at.isoformat(),
                row.actor.reference if row.actor else "",
                row.actor.name if row.actor else "",
                row.verb,
                row.subject,
                row.subject_id,
                row.episode or "",
                row.origin,
                json.dumps(row.detail, ensure_ascii=False, sort_keys=True),
            ]
        )


def _line(cells: Sequence[object]) -> str:
    """One line; what a spreadsheet would take for a formula is written as text."""
    out = io.StringIO()
    csv.writer(out).writerow([f"'{text}" if (text := str(cell)).startswith(_RISKY) else text for cell in cells])
    return out.getvalue()
