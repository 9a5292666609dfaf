"""Hands for tests of the ledger: writers on connections of their own, the superuser, and the tree as it is defined."""

from __future__ import annotations

import os
from collections.abc import Iterator
from contextlib import contextmanager

import psycopg
from django.db import connection

from clinic.ledger import note
from clinic.ledger.keys import ring
from clinic.ledger.models import Checkpoint, LedgerGap, LedgerLeaf, LedgerNode
from clinic.ledger.sources import sources
from tests.ledger.definition import mth, sha


@contextmanager
def behind(*, triggers: bool = False) -> Iterator[psycopg.Connection]:
    """The superuser, with triggers off: what no programme does."""
    url, name = os.environ["TEST_SUPERUSER_URL"], str(connection.settings_dict["NAME"])
    with psycopg.connect(url, dbname=name) as other:
        if not triggers:
            other.execute("SET session_replication_role = replica")
        yield other


def rows() -> set[tuple[int, int]]:
    """Source and number of every row of record and trail."""
    found = set()
    with connection.cursor() as cursor:
        for source in sources():
            cursor.execute(f"SELECT number FROM {source.table}")
            found |= {(source.code, number) for (number,) in cursor.fetchall()}
    return found


def sealed() -> list[tuple[int, int]]:
    """Source and number of every leaf, in the order of the tree."""
    return list(LedgerLeaf.objects.order_by("position").values_list("source", "number"))


def texts() -> list[bytes]:
    """The canonical bytes of every sealed row, as its columns are now, in the order of the tree."""
    said: dict[tuple[int, int], bytes] = {}
    with connection.cursor() as cursor:
        for source in sources():
            cursor.execute(f"SELECT number, {source.sql()} FROM {source.table}")
            said |= {(source.code, number): str(text).encode() for number, text in cursor.fetchall()}
    return [said[row] for row in sealed()]


def holds() -> bool:
    """Everything that is stored is what the definition makes of the rows: positions, leaves, nodes, checkpoints."""
    entries, known = texts(), ring()
    leaves = list(LedgerLeaf.objects.order_by("position").values_list("position", "leaf"))
    assert [(at, bytes(leaf)) for at, leaf in leaves] == [(at, sha(b"\0" + text)) for at, text in enumerate(entries)]
    for row in Checkpoint.objects.order_by("-number")[:5]:
        opened = note.opened(row.note, known)
        assert (opened.size, opened.root) == (row.size, bytes(row.root)) == (row.size, mth(entries[: row.size]))
    nodes = LedgerNode.objects.values_list("level", "index", "hash")
    wanted = [(level, at) for level in (8, 16) for at in range(len(entries) >> level)]
    assert {(level, at): bytes(one) for level, at, one in nodes} == {
        (level, at): mth(entries[at << level : (at + 1) << level]) for level, at in wanted
    }
    return True


def gaps() -> list[tuple[int, int, int, bool]]:
    """Source, first, last, and whether a row that is not ours stands there."""
    return list(LedgerGap.objects.order_by("source", "first").values_list("source", "first", "last", "slipped_in"))
