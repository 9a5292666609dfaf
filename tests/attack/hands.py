"""What the attacker's hands do: statements of the superuser, and sealing anew with keys that were stolen."""

from __future__ import annotations

import hmac
import random
from collections.abc import Sequence
from datetime import UTC, datetime
from typing import Any

from django.db import connection

from clinic.ledger import gather, keys, note
from clinic.ledger.grow import grow
from clinic.ledger.merkle import Edge, leaf_hash
from clinic.ledger.note import Signer
from clinic.ledger.sources import Source, source_of, sources

LEDGER = ("clinic_ledgerleaf", "clinic_ledgernode", "clinic_checkpoint")


def did(statement: str, values: Sequence[Any] = ()) -> int:
    """Run a statement; how many rows it touched."""
    with connection.cursor() as cursor:
        cursor.execute(statement, list(values))
        return int(cursor.rowcount)


def rows(statement: str, values: Sequence[Any] = ()) -> list[tuple[Any, ...]]:
    """What a question brings."""
    with connection.cursor() as cursor:
        cursor.execute(statement, list(values))
        return list(cursor.fetchall())


def a_sealed(source: Source, rng: random.Random, more: str = "") -> int:
    """The number of some sealed row of a table."""
    sealed = "JOIN clinic_ledgerleaf l ON l.source = %s AND l.number = t.number"
    found = rows(f"SELECT t.number FROM {source.table} t {sealed} {more} ORDER BY t.number", [source.code])
    return int(rng.choice(found)[0])


def restamp(source: Source, number: int, *, mac_key: bytes | None) -> None:
    """Leaf, and with a stolen key the MAC, of a row as it is now."""
    ((said,),) = rows(f"SELECT {source.sql('t')} FROM {source.table} t WHERE number = %s", [number])
    leaf = leaf_hash(str(said).encode())
    did(f"UPDATE {source.table} SET leaf = %s WHERE number = %s", [leaf, number])
    if mac_key is not None:
        mac = hmac.digest(mac_key, leaf, "sha256")
        did(f"UPDATE {source.table} SET mac = %s WHERE number = %s", [mac, number])


def reseal(signers: Sequence[Signer], *, mac_key: bytes | None = None) -> None:
    """Throw the tree away and make another from the rows as they are, in the order in which they were sealed, under a
    checkpoint by these keys."""
    order = rows("SELECT source, number FROM clinic_ledgerleaf ORDER BY position")
    there = {source.code: {n for (n,) in rows(f"SELECT number FROM {source.table}")} for source in sources()}
    kept = [(code, number) for code, number in order if number in there[code]]
    for code, number in kept:
        restamp(source_of(code), number, mac_key=mac_key)
    for table in LEDGER:
        did(f"DELETE FROM {table}")
    leaves = []
    for code, number in kept:
        ((leaf,),) = rows(f"SELECT leaf FROM {source_of(code).table} WHERE number = %s", [number])
        leaves.append((code, number, bytes(leaf)))
    edge = Edge()
    nodes = grow(edge, [leaf for _, _, leaf in leaves])
    gather.write(0, leaves, nodes)
    checkpoint(edge, signers)


def checkpoint(edge: Edge, signers: Sequence[Signer]) -> None:
    """Put a signed checkpoint in."""
    at = datetime.now(tz=UTC)
    made = note.Checkpoint(keys.ring().origin, edge.size, edge.root(), at)
    did(
        "INSERT INTO clinic_checkpoint (size, root, at, edge, note) VALUES (%s, %s, %s, %s, %s)",
        [edge.size, made.root, at, edge.dump(), note.signed(made, signers)],
    )
