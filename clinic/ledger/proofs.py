"""Proofs from what is stored: that a row is under a checkpoint, and that one checkpoint continues another.

A proof needs the hashes of complete subtrees. Those of every eighth level stand in clinic_ledgernode; what lies between
is folded from at most 255 hashes one stride below. A proof for a ledger of n rows so reads at most 256·log₂(n) hashes,
whatever n is. Nothing here is believed by whoever verifies: a proof from a ledger that was tampered with does not hold.
"""

from __future__ import annotations

from dataclasses import dataclass

from django.db import connection

from clinic.ledger import merkle
from clinic.ledger.grow import STRIDE
from clinic.ledger.models import Checkpoint, LedgerLeaf
from clinic.ledger.sources import Source

_LEAVES = "SELECT leaf FROM clinic_ledgerleaf WHERE position >= %s AND position < %s ORDER BY position"
_NODES = "SELECT hash FROM clinic_ledgernode WHERE level = %s AND index >= %s AND index < %s ORDER BY index"


class NotSealed(Exception):
    """There is no such leaf or checkpoint (yet); the message says which."""


@dataclass(frozen=True, slots=True)
class Inclusion:
    """That the leaf at `position` is under the root of `size` leaves."""

    position: int
    size: int
    leaf: bytes
    path: tuple[bytes, ...]


@dataclass(frozen=True, slots=True)
class Consistency:
    """That the first `first` leaves of the tree of `second` are the tree of `first`."""

    first: int
    second: int
    path: tuple[bytes, ...]


def inclusion(source: Source, number: int, *, size: int | None = None) -> Inclusion:
    """The proof for the row of a table with this number, under the newest checkpoint or one of another size.

    NotSealed where the row is not in the tree of that size.
    """
    found = LedgerLeaf.objects.filter(source=source.code, number=number).values_list("position", "leaf").first()
    size = newest_size() if size is None else size
    if found is None or found[0] >= size:
        raise NotSealed(f"Row {number} of {source.table} is not among the first {size} leaves.")
    return Inclusion(found[0], size, bytes(found[1]), tuple(merkle.inclusion_path(found[0], size, stored_node)))


def consistency(first: int, second: int) -> Consistency:
    """The proof between two sizes that were sealed, 0 < first ≤ second. NotSealed beyond what is."""
    if second > newest_size():
        raise NotSealed(f"No more than {newest_size()} leaves are sealed; {second} were asked for.")
    return Consistency(first, second, tuple(merkle.consistency_path(first, second, stored_node)))


def newest() -> Checkpoint | None:
    """The checkpoint that was signed last; nothing in a ledger that was never sealed."""
    return Checkpoint.objects.order_by("-number").first()


def newest_size() -> int:
    """How many leaves the newest checkpoint has."""
    found = newest()
    return 0 if found is None else found.size


def stored_node(level: int, index: int) -> bytes:
    """The hash of a complete subtree (merkle.Nodes): from the stored level at or below it, at most 256 hashes."""
    stored = level // STRIDE * STRIDE
    width = 1 << (level - stored)
    first = index * width
    with connection.cursor() as cursor:
        if stored:
            cursor.execute(_NODES, [stored, first, first + width])
        else:
            cursor.execute(_LEAVES, [first, first + width])
        hashes = [bytes(one) for (one,) in cursor.fetchall()]
    if len(hashes) != width:
        raise NotSealed(f"Hashes of the subtree {level}/{index} are missing from the ledger.")
    return merkle.root(hashes)


class Stored:
    """`stored_node` for many proofs at once: what was read once is not read again, and small subtrees come 256 leaves
    at a time. `node` is a merkle.Nodes."""

    def __init__(self) -> None:
        self._nodes: dict[tuple[int, int], bytes] = {}
        self._blocks: dict[int, list[bytes]] = {}

    def node(self, level: int, index: int) -> bytes:
        """The hash of a complete subtree. NotSealed where hashes of it are missing."""
        known = self._nodes.get((level, index))
        if known is None:
            known = stored_node(level, index) if level >= STRIDE else self._within(level, index)
            self._nodes[level, index] = known
        return known

    def _within(self, level: int, index: int) -> bytes:
        """A subtree smaller than a block."""
        block = index >> (STRIDE - level)
        first = block << STRIDE
        if block not in self._blocks:
            with connection.cursor() as cursor:
                cursor.execute(_LEAVES, [first, first + (1 << STRIDE)])
                self._blocks[block] = [bytes(leaf) for (leaf,) in cursor.fetchall()]
        start = (index << level) - first
        leaves = self._blocks[block][start : start + (1 << level)]
        if len(leaves) != 1 << level:
            raise NotSealed(f"Hashes of the subtree {level}/{index} are missing from the ledger.")
        return merkle.root(leaves)
