"""What the sealer reads and writes, each in one statement a table, however many rows there are."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import NamedTuple

from django.db import connection
from psycopg import Cursor

from clinic.ledger.sources import Source

_SEEN = """
SELECT greatest((SELECT max(number) FROM clinic_ledgerleaf WHERE source = %(source)s),
    (SELECT max(last) FROM clinic_ledgergap WHERE source = %(source)s), 0)
"""
_NEW = """
SELECT t.number, {same}, t.leaf, t.mac FROM {table} t WHERE t.number > %(seen)s ORDER BY t.number LIMIT %(limit)s
"""
_LATE = """
SELECT t.number, {same}, t.leaf, t.mac, g.id
FROM clinic_ledgergap g JOIN {table} t ON t.number BETWEEN g.first AND g.last
WHERE g.source = %(source)s AND g.last > %(passed)s AND t.number > %(passed)s ORDER BY t.number LIMIT %(limit)s
"""
_SAME = r"t.leaf = sha256('\x00'::bytea || convert_to({0}, 'UTF8'))"
_LEAVES = "COPY clinic_ledgerleaf (position, source, number, leaf) FROM STDIN"
_NODES = """
INSERT INTO clinic_ledgernode (level, index, hash)
SELECT * FROM unnest(%(levels)s::smallint[], %(indices)s::bigint[], %(hashes)s::bytea[])
"""


class Row(NamedTuple):
    """A row that is not sealed.

    `same`: whether its leaf is that of its columns as they are now (nothing where they have no canonical bytes). The
    database works that out: it could lie about the columns just as well, and whoever verifies does it again.
    """

    number: int
    same: bool | None
    leaf: bytes
    mac: bytes


@dataclass(frozen=True, slots=True)
class Found:
    """Rows of one table that are there and not sealed: first those that lay in a gap, then those beyond what was seen.

    `late`: number → id of its gap. `seen`: the greatest number that had been seen; `after`: the greatest now.
    `passed`: up to where gaps have been looked at in this run. `more`: the limit was reached.
    """

    rows: list[Row]
    late: dict[int, int]
    seen: int
    after: int
    passed: int
    more: bool


def found(source: Source, limit: int, passed: int) -> Found:
    """Look for rows of a table that are not sealed, at most `limit` in gaps and as many beyond."""
    words = {"source": source.code, "passed": passed, "limit": limit}
    with Cursor(connection.connection) as cursor:
        (seen,) = cursor.execute(_SEEN, words).fetchone() or (0,)
        late = cursor.execute(_asked(_LATE, source), words, binary=True).fetchall()
        new = cursor.execute(_asked(_NEW, source), {**words, "seen": seen}, binary=True).fetchall()
    return Found(
        rows=[Row(*row[:4]) for row in late] + [Row(*row) for row in new],
        late={row[0]: row[4] for row in late},
        seen=seen,
        after=new[-1][0] if new else seen,
        passed=late[-1][0] if late else passed,
        more=len(late) == limit or len(new) == limit,
    )


def _asked(statement: str, source: Source) -> str:
    return statement.format(table=source.table, same=_SAME.format(source.sql("t")))


def write(first: int, leaves: Sequence[tuple[int, int, bytes]], nodes: Sequence[tuple[int, int, bytes]]) -> None:
    """Put leaves (source, number, leaf) into the tree from a position on, and nodes (level, index, hash)."""
    lines = [
        f"{position}\t{source}\t{number}\t\\\\x{leaf.hex()}\n"
        for position, (source, number, leaf) in enumerate(leaves, first)
    ]
    with Cursor(connection.connection) as cursor:
        with cursor.copy(_LEAVES) as copy:
            copy.write("".join(lines))
        if nodes:
            levels, indices, hashes = zip(*nodes, strict=True)
            words = {"levels": list(levels), "indices": list(indices), "hashes": list(hashes)}
            cursor.execute(_NODES, words)
