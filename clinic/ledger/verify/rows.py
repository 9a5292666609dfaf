"""The rows of a table of the ledger, each worked out again from its columns, against its stamp and its sealed leaf.

The database writes the canonical bytes as one text a row (sources.py) and sends them; they are hashed here. What it
also sends is compared here too: nothing that the database could be made to say is believed.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from hashlib import sha256
from itertools import islice
from typing import Any

from django.db import connection
from psycopg import Cursor

from clinic.ledger.mac import is_ours, mac_of
from clinic.ledger.sources import Source
from clinic.ledger.verify.findings import Kind, Report

AT_ONCE = 5_000
_ROWS = """
SELECT t.number, convert_to({bytes}, 'UTF8'), t.leaf, t.mac, l.position, l.leaf
FROM {table} t LEFT JOIN clinic_ledgerleaf l ON l.source = {code} AND l.number = t.number {where}
"""
_GONE = """
SELECT l.position, l.number FROM clinic_ledgerleaf l LEFT JOIN {table} t ON t.number = l.number
WHERE l.source = {code} AND t.number IS NULL AND l.position >= %s ORDER BY l.position LIMIT 100
"""
_HIDDEN = """
SELECT n FROM unnest(%s::bigint[]) n
WHERE n <= (SELECT coalesce(max(number), 0) FROM clinic_ledgerleaf WHERE source = %s)
    AND NOT EXISTS (SELECT FROM clinic_ledgergap g WHERE g.source = %s AND n BETWEEN g.first AND g.last)
"""


@dataclass(frozen=True, slots=True)
class Part:
    """Which rows: a condition on `t` and `l`, with its values; everything where it is empty. `since`: the first
    position that is looked at."""

    where: str = ""
    values: Sequence[Any] = ()
    since: int = 0
    whole: bool = True  # rows that are gone are looked for, too


@dataclass(frozen=True, slots=True)
class MacKeys:
    """Keys that count for sealed rows (closed ones as well), and for rows that are not sealed."""

    known: tuple[bytes, ...]
    open: tuple[bytes, ...]


def verify_rows(source: Source, part: Part, macs: MacKeys, report: Report, tick: Callable[[int], None]) -> None:
    """Look at every row of the part, and for the sealed ones that are not there."""
    sealed, unsealed = 0, []
    newest = macs.known[0]
    for rows in fetched(source, part):
        for number, said, leaf, mac, position, in_tree in rows:
            found = None if said is None else sha256(b"\x00" + said).digest()
            if position is None:
                unsealed.append(number)
                if found is None or found != leaf or not is_ours(leaf, mac, macs.open):
                    report.add(Kind.ROW_SLIPPED_IN, f"number {number} of {source.table}")
            elif found != in_tree:
                sealed += 1
                kind = Kind.LEAVES_CHANGED if found == leaf and is_ours(leaf, mac, macs.known) else Kind.ROW_CHANGED
                report.add(kind, f"number {number} of {source.table}, leaf {position}", position)
            else:
                sealed += 1
                if found != leaf or (mac != mac_of(newest, leaf) and not is_ours(leaf, mac, macs.known)):
                    report.add(Kind.STAMP_CHANGED, f"number {number} of {source.table}, leaf {position}")
        report.rows += len(rows)
        tick(len(rows))
    report.unsealed += len(unsealed)
    _hidden(source, unsealed, report)
    if part.whole:
        _gone(source, part, sealed, report)


def fetched(source: Source, part: Part) -> Iterator[list[Any]]:
    """The rows in pieces: number, canonical bytes, leaf, MAC, position, leaf in the tree."""
    where = f"WHERE {part.where}" if part.where else ""
    asked = _ROWS.format(bytes=source.sql("t"), table=source.table, code=source.code, where=where)
    return streamed(asked, part.values)


def streamed(asked: str, values: Sequence[Any] = ()) -> Iterator[list[Any]]:
    """The answer to a question in pieces, read while the database still makes it. Until it has all been read, nothing
    else can be asked."""
    with Cursor(connection.connection) as cursor:
        answer = cursor.stream(asked, values, binary=True, size=AT_ONCE)
        while piece := list(islice(answer, AT_ONCE)):
            yield piece


def _hidden(source: Source, unsealed: list[int], report: Report) -> None:
    """Rows below the greatest sealed number that lie in no gap: the sealer will never come by."""
    if not unsealed:
        return
    with connection.cursor() as cursor:
        cursor.execute(_HIDDEN, [unsealed, source.code, source.code])
        for (number,) in cursor.fetchall():
            report.add(Kind.ROW_HIDDEN, f"number {number} of {source.table}")


def _gone(source: Source, part: Part, sealed: int, report: Report) -> None:
    """Sealed rows that are not there. Where as many were seen as there are leaves, none is gone."""
    with connection.cursor() as cursor:
        cursor.execute(
            "SELECT count(*) FROM clinic_ledgerleaf WHERE source = %s AND position >= %s", [source.code, part.since]
        )
        if cursor.fetchone()[0] == sealed:
            return
        cursor.execute(_GONE.format(table=source.table, code=source.code), [part.since])
        for position, number in cursor.fetchall():
            report.add(Kind.ROW_GONE, f"number {number} of {source.table}, leaf {position}", position)
