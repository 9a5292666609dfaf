"""Verifying the whole ledger, against reading and hashing the same bytes: those of every row and of every content, from
a bare table.

Besides, the programme lets the database write the rows' bytes down from their columns, compares leaves, checks every
MAC and commitment, builds the tree, compares it with every checkpoint, and looks for what is gone.
"""

from __future__ import annotations

import os
from hashlib import sha256
from typing import Any

import psycopg
from django.db import connection

from checklists.speed.measure import Ratio, in_turns
from clinic import clock
from clinic.ledger.seal import seal
from clinic.ledger.sources import sources
from clinic.ledger.verify.rows import streamed
from clinic.ledger.verify.run import verify


def measure(*, pairs: int) -> Ratio:
    """Everything that stands in the tables is sealed first."""
    seal(clock.now())
    said = [f"SELECT {source.sql()} FROM {source.table}" for source in sources()]  # noqa: S608 - ours
    texts = " UNION ALL ".join([*said, "SELECT body FROM checklists_entrycontent"])
    with psycopg.connect(os.environ["MIGRATE_DATABASE_URL"]) as owner:
        made: Any = f"CREATE TABLE bare_said AS SELECT convert_to(t, 'UTF8') AS said FROM ({texts}) AS x(t)"  # noqa: S608
        owner.execute(made)
    with connection.cursor() as cursor:
        cursor.execute("ANALYZE")  # as autovacuum does in a clinic

    def floor() -> None:
        for rows in streamed("SELECT said FROM bare_said"):
            for (one,) in rows:
                sha256(one).digest()

    def program() -> None:
        report = verify(witnesses=[])
        if not report.holds:
            raise RuntimeError(f"the bench's ledger does not hold: {report.sentences()[:3]}")

    return in_turns(floor, program, pairs=pairs, warm=1)
