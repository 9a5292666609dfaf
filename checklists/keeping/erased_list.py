"""The list of erasures outside the database, so that a restored backup does not bring back what the law made us erase.

One JSON line an erasure: ids and references, the ground and the reason, no word about the person. After each erasure,
and from time to time by the worker, it is brought up to date from the database; a line once written stays. After a
restore `reapply` does again what the database does not know of.
"""

from __future__ import annotations

import json
import os
from collections.abc import Iterable, Iterator
from dataclasses import asdict, dataclass
from datetime import datetime
from pathlib import Path
from uuid import UUID

from django.conf import settings
from django.db import transaction

from caseload.models import Person
from checklists.keeping.models import Erased, Erasure, ErasureDecision
from checklists.keeping.steps import erase
from clinic.audit import trail
from clinic.staff.models import Staff


@dataclass(frozen=True, slots=True)
class Listed:
    """One erasure, as the list has it."""

    erasure: str
    person: str
    ground: str
    reason: str
    overrides_retention: bool
    asked_by: str
    asked_at: str
    decided_by: str
    decided_at: str


def file() -> Path:
    """Where the list lies."""
    return Path(settings.ERASURES_FILE)


def read(path: Path) -> list[Listed]:
    """The list; empty where there is none. A line that is none of ours: ValueError with its number."""
    if not path.exists():
        return []
    found = []
    for number, line in enumerate(path.read_text(encoding="utf-8").splitlines(), 1):
        try:
            found.append(Listed(**json.loads(line)))
        except (ValueError, TypeError) as fault:
            raise ValueError(f"{path.name}, line {number}: is no erasure ({fault})") from None
    return found


def keep() -> int:
    """Bring the list up to date: what the database knows and the list does not is added. Returns how many lines."""
    path = file()
    known = {one.erasure: one for one in read(path)}
    new = [one for one in _done() if one.erasure not in known]
    if new:
        _write(path, [*known.values(), *new])
    return len(known) + len(new)


def _done() -> Iterator[Listed]:
    rows = Erased.objects.select_related("erasure__decision__decided_by", "erasure__asked_by")
    for row in rows.order_by("at", "pk"):
        asked, decided = row.erasure, row.erasure.decision
        yield Listed(
            erasure=str(asked.pk),
            person=str(asked.person_id),
            ground=asked.ground,
            reason=asked.reason,
            overrides_retention=asked.overrides_retention,
            asked_by=asked.asked_by.reference,
            asked_at=asked.asked_at.isoformat(),
            decided_by=decided.decided_by.reference,
            decided_at=decided.decided_at.isoformat(),
        )


def _write(path: Path, lines: Iterable[Listed]) -> None:
    """The whole list anew, beside the old one and then in its place: it is never half there."""
    path.parent.mkdir(parents=True, exist_ok=True)
    beside = path.with_name(f".{path.name}.{os.getpid()}")
    with os.fdopen(os.open(beside, os.O_WRONLY | os.O_CREAT | os.O_TRUNC, 0o600), "w", encoding="utf-8") as out:
        out.writelines(json.dumps(asdict(one), ensure_ascii=False) + "\n" for one in lines)
        out.flush()
        os.fsync(out.fileno())
    beside.replace(path)


@dataclass(frozen=True, slots=True)
class Again:
    """What became of one line. `said` is empty where it was done again."""

    erasure: str
    said: str = ""
    failed: bool = False


def reapply(listed: Iterable[Listed], *, at: datetime) -> Iterator[Again]:
    """Erase again whatever a restored database still holds; each line in a transaction of its own."""
    for one in listed:
        if Erased.objects.filter(erasure_id=UUID(one.erasure)).exists():
            yield Again(one.erasure, "is erased here already")
        elif not Person.objects.filter(pk=UUID(one.person)).exists():
            yield Again(one.erasure, "nobody here: this database is older than the person's record")
        else:
            yield _again(one, at)


@transaction.atomic(durable=True)
def _again(one: Listed, at: datetime) -> Again:
    staff = {row.reference: row for row in Staff.objects.filter(reference__in=(one.asked_by, one.decided_by))}
    missing = sorted({one.asked_by, one.decided_by} - staff.keys())
    if missing:
        return Again(one.erasure, f"nobody on the staff register is {' or '.join(missing)}: add them first", True)
    row, _ = Erasure.objects.get_or_create(
        pk=UUID(one.erasure),
        defaults={
            "person_id": UUID(one.person),
            "ground": one.ground,
            "reason": one.reason,
            "overrides_retention": one.overrides_retention,
            "asked_by": staff[one.asked_by],
            "asked_at": datetime.fromisoformat(one.asked_at),
        },
    )
    ErasureDecision.objects.get_or_create(
        erasure=row,
        defaults={
            "confirmed": True,
            "decided_by": staff[one.decided_by],
            "decided_at": datetime.fromisoformat(one.decided_at),
        },
    )
    trail.record(None, "erasure.reapplied", "erasure", row.pk, at=at, detail={"decided_by": one.decided_by})
    erase(row.pk)
    return Again(one.erasure)
