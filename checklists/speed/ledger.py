"""What the ledger costs: writing with it against writing without it, alone and with sixteen writers; and sealing.

`ledger_entry`, `ledger_16_writers`: the same facts through the same write path, with the ledger and without (bare.py).
While the sixteen write with it, a sealer is at work beside them, which seals everything that they write.

`seal`: sealing rows that stand in the tables, against hashing the canonical bytes of as many rows, which lie in memory,
building the tree over them, and inserting the leaves. Besides, the programme reads the rows, lets the database write
down their bytes, checks every MAC, keeps the gaps, signs, and looks whether it may go on.
"""

from __future__ import annotations

import os
from collections.abc import Sequence
from datetime import datetime
from hashlib import sha256

import psycopg
from django.db import connection, transaction

from checklists.record.leaf import ENTRY
from checklists.speed import recording, writers
from checklists.speed.measure import Ratio, in_turns
from checklists.speed.recording import Writer
from clinic import clock
from clinic.ledger.seal import seal

LEAVES = "COPY bare_leaf (position, source, number, leaf) FROM STDIN"


def measure_entry(writer: Writer, *, pairs: int) -> Ratio:
    """One writer, one fact at a time; the floor is without the ledger."""
    return recording.measure(writer, pairs=pairs, floor="without")


def measure_writers(crew: Sequence[tuple[str, str]], at: datetime, *, rounds: int) -> Ratio:
    """Sixteen writers; the sealer works while they write with the ledger."""
    return writers.measure(crew, at, rounds=rounds, each=20, floor="without", sealed=True)


def measure_seal(*, rows: int, pairs: int) -> Ratio:
    """`pairs` times so many rows of the record, which must stand there unsealed."""
    with psycopg.connect(os.environ["MIGRATE_DATABASE_URL"]) as owner:
        owner.execute("CREATE TABLE bare_leaf (LIKE clinic_ledgerleaf INCLUDING ALL)")
    with connection.cursor() as cursor:
        cursor.execute(f"SELECT {ENTRY.sql()} FROM checklists_entry LIMIT %s", [rows])  # noqa: S608 - names of ours
        said = [str(text).encode() for (text,) in cursor.fetchall()]
    done = 0

    def floor() -> None:
        nonlocal done
        _hashed_and_inserted(done, said)
        done += rows

    def program() -> None:
        sealed = seal(clock.now(), at_once=rows, pieces=1)
        if (sealed.leaves < rows) or sealed.refused:
            raise RuntimeError(f"the sealer did not seal what it was to: {sealed}")

    return in_turns(floor, program, pairs=pairs, warm=1)


@transaction.atomic
def _hashed_and_inserted(first: int, said: Sequence[bytes]) -> None:
    leaves = [sha256(b"\0" + text).digest() for text in said]
    level = leaves
    while len(level) > 1:
        odd = level[-1:] if len(level) % 2 else []
        level = [sha256(b"\1" + a + b).digest() for a, b in zip(level[::2], level[1::2], strict=False)] + odd
    lines = [f"{first + place}\t1\t{first + place}\t\\\\x{leaf.hex()}\n" for place, leaf in enumerate(leaves)]
    with connection.connection.cursor() as cursor, cursor.copy(LEAVES) as copy:
        copy.write("".join(lines))
