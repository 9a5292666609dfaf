"""Verifying the whole ledger, against reading the same bytes from bare tables and hashing them: each row's bytes to its
leaf, the leaf with the key to its MAC, the leaves to the root, each content to its commitment.

Besides, the programme lets the database write the rows' bytes down from their columns, compares all that with what
stands there, checks every checkpoint and signature, and looks for what is gone. What it takes against hashing each
byte but once, without MAC and tree, is told beside the figure.
"""

from __future__ import annotations

import hmac
import os
from hashlib import sha256
from typing import Any

import psycopg
from django.db import connection

from checklists.speed.measure import Ratio, in_turns
from clinic import clock
from clinic.ledger import keys
from clinic.ledger.grow import grow
from clinic.ledger.merkle import Edge
from clinic.ledger.seal import seal
from clinic.ledger.sources import sources
from clinic.ledger.verify.rows import streamed
from clinic.ledger.verify.run import verify


def measure(*, pairs: int) -> tuple[Ratio, Ratio]:
    """Everything that stands in the tables is sealed first. The figure, and the one against hashing each byte once."""
    seal(clock.now())
    said = " UNION ALL ".join(f"SELECT {source.sql()} FROM {source.table}" for source in sources())  # noqa: S608 - names of ours
    bare: list[Any] = [
        f"CREATE TABLE read_rows AS SELECT convert_to(t, 'UTF8') AS said FROM ({said}) AS x(t)",  # noqa: S608 - our own names
        "CREATE TABLE read_contents AS SELECT salt || convert_to(body, 'UTF8') AS said FROM checklists_entrycontent",
    ]
    with psycopg.connect(os.environ["MIGRATE_DATABASE_URL"]) as owner:
        for statement in bare:
            owner.execute(statement)
    with connection.cursor() as cursor:
        cursor.execute("ANALYZE")  # as autovacuum does in a clinic
    key = keys.mac_key()

    def floor() -> None:
        leaves = [sha256(b"\0" + one).digest() for rows in streamed("SELECT said FROM read_rows") for (one,) in rows]
        for leaf in leaves:
            hmac.digest(key, leaf, "sha256")
        grow(Edge(), leaves)
        for rows in streamed("SELECT said FROM read_contents"):
            for (one,) in rows:
                sha256(one).digest()

    def once() -> None:
        for table in ("read_rows", "read_contents"):
            for rows in streamed(f"SELECT said FROM {table}"):  # noqa: S608 - names of ours
                for (one,) in rows:
                    sha256(one).digest()

    def program() -> None:
        report = verify(witnesses=[])
        if not report.holds:
            raise RuntimeError(f"the bench's ledger does not hold: {report.sentences()[:3]}")

    return in_turns(floor, program, pairs=pairs, warm=1), in_turns(once, program, pairs=pairs, warm=0)
