"""The Merkle tree of RFC 9162 (the same tree as RFC 6962): hashes, compact range, proofs, and their verification.

Pure: bytes in, bytes out. A `nodes` getter gives the hash of a *complete* subtree: `nodes(level, index)` covers the
leaves from `index << level` up to, not including, `(index + 1) << level`; level 0 is the leaf hashes. Whoever proves
needs those only; ragged right edges are folded here. Indices count from 0.
"""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, field

HASH_BYTES = 32
EMPTY_ROOT = hashlib.sha256(b"").digest()

Nodes = Callable[[int, int], bytes]


class NotATree(ValueError):
    """What was given cannot belong to any tree: a hash of the wrong length, a size or an index out of range."""


def leaf_hash(data: bytes) -> bytes:
    """SHA-256(0x00 ‖ data), RFC 9162 §2.1.1."""
    return hashlib.sha256(b"\x00" + data).digest()


def node_hash(left: bytes, right: bytes) -> bytes:
    """SHA-256(0x01 ‖ left ‖ right), RFC 9162 §2.1.1."""
    return hashlib.sha256(b"\x01" + left + right).digest()


@dataclass(slots=True)
class Edge:
    """The right edge of a tree: the roots of its complete subtrees, widest first. Enough to append and to know the
    root, in 32 bytes a set bit of the size."""

    size: int = 0
    peaks: list[bytes] = field(default_factory=list)

    def append(self, leaf: bytes) -> None:
        """Take one leaf hash."""
        if len(leaf) != HASH_BYTES:
            raise NotATree(f"A leaf hash has {HASH_BYTES} bytes, not {len(leaf)}.")
        size, peaks = self.size, self.peaks
        while size & 1:
            leaf = hashlib.sha256(b"\x01" + peaks.pop() + leaf).digest()
            size >>= 1
        peaks.append(leaf)
        self.size += 1

    def extend(self, leaves: Iterable[bytes]) -> None:
        """Take leaf hashes in order."""
        for leaf in leaves:
            self.append(leaf)

    def root(self) -> bytes:
        """The root of the tree so far."""
        return _fold(self.peaks) if self.peaks else EMPTY_ROOT

    def copy(self) -> Edge:
        """An edge that can grow on its own."""
        return Edge(self.size, list(self.peaks))

    def dump(self) -> bytes:
        """Eight bytes of size, then the peaks."""
        return self.size.to_bytes(8, "big") + b"".join(self.peaks)

    @classmethod
    def load(cls, dumped: bytes) -> Edge:
        """What `dump` gave; anything else: NotATree."""
        size = int.from_bytes(dumped[:8], "big")
        rest = dumped[8:]
        if len(dumped) < 8 or len(rest) != HASH_BYTES * size.bit_count():
            raise NotATree("The bytes are no edge of a tree: their length does not fit the size that they state.")
        return cls(size, [rest[at : at + HASH_BYTES] for at in range(0, len(rest), HASH_BYTES)])


def root(leaves: Iterable[bytes]) -> bytes:
    """The root over leaf hashes, in one pass."""
    edge = Edge()
    edge.extend(leaves)
    return edge.root()


def nodes_of(leaves: Sequence[bytes]) -> Nodes:
    """A getter over leaf hashes in memory, for small trees and for tests: it hashes anew each time."""

    def node(level: int, index: int) -> bytes:
        first, after = index << level, (index + 1) << level
        if after > len(leaves):
            raise NotATree(f"The subtree {level}/{index} is not complete.")
        return root(leaves[first:after])

    return node


def inclusion_path(index: int, size: int, nodes: Nodes) -> list[bytes]:
    """The audit path of the leaf at `index` in the tree of `size`, nearest the leaf first (RFC 9162 §2.1.3.1)."""
    if not 0 <= index < size:
        raise NotATree(f"A tree of {size} leaves has none at {index}.")
    return [_subtree(first, after, nodes) for first, after in reversed(list(_besides(index, 0, size)))]


def consistency_path(first: int, second: int, nodes: Nodes) -> list[bytes]:
    """The proof that the tree of `first` leaves is the beginning of that of `second` (RFC 9162 §2.1.4.1).

    Empty where the sizes are equal. `first` = 0 is refused: an empty tree is the beginning of every tree, so such a
    proof would show nothing.
    """
    if not 0 < first <= second:
        raise NotATree(f"There is no consistency proof from size {first} to size {second}.")
    if first == second:
        return []
    # Down to the subtree that ends where the old tree ended: it is the seed, left out where it is the whole old tree.
    start, end, passed = 0, second, []
    while end != first:
        middle = start + _split(end - start)
        if first <= middle:
            passed.append((middle, end))
            end = middle
        else:
            passed.append((start, middle))
            start = middle
    seed = [] if start == 0 else [_subtree(start, end, nodes)]
    return seed + [_subtree(left, right, nodes) for left, right in reversed(passed)]


def verify_inclusion(leaf: bytes, index: int, size: int, path: Sequence[bytes], tree_root: bytes) -> bool:
    """Whether the path leads from this leaf hash at `index` to the root of the tree of `size` (RFC 9162 §2.1.3.2)."""
    if not 0 <= index < size or not _hashes(leaf, tree_root, *path):
        return False
    fn, sn, result = index, size - 1, leaf
    for step in path:
        if sn == 0:
            return False
        if fn & 1 or fn == sn:
            result = node_hash(step, result)
            while not fn & 1 and fn:
                fn, sn = fn >> 1, sn >> 1
        else:
            result = node_hash(result, step)
        fn, sn = fn >> 1, sn >> 1
    return sn == 0 and result == tree_root


def verify_consistency(first: int, second: int, path: Sequence[bytes], first_root: bytes, second_root: bytes) -> bool:
    """Whether the tree with the first root is the beginning of that with the second (RFC 9162 §2.1.4.2).

    `first` = 0 is refused, as is any hash that has not 32 bytes; equal sizes need equal roots and an empty path.
    """
    if not 0 < first <= second or not _hashes(first_root, second_root, *path):
        return False
    if first == second:
        return not path and first_root == second_root
    steps = list(path)
    if first & (first - 1) == 0:  # a power of two: the old root is the seed, and left out of the path
        steps.insert(0, first_root)
    if not steps:
        return False
    fn, sn = first - 1, second - 1
    while fn & 1:
        fn, sn = fn >> 1, sn >> 1
    old = new = steps[0]
    for step in steps[1:]:
        if sn == 0:
            return False
        if fn & 1 or fn == sn:
            old, new = node_hash(step, old), node_hash(step, new)
            while not fn & 1 and fn:
                fn, sn = fn >> 1, sn >> 1
        else:
            new = node_hash(new, step)
        fn, sn = fn >> 1, sn >> 1
    return sn == 0 and old == first_root and new == second_root


def _hashes(*values: bytes) -> bool:
    return all(len(value) == HASH_BYTES for value in values)


def _split(size: int) -> int:
    """The largest power of two smaller than the size (> 1)."""
    return 1 << ((size - 1).bit_length() - 1)


def _besides(index: int, start: int, end: int) -> Iterator[tuple[int, int]]:
    """The ranges of leaves beside the way from the root down to a leaf, from the root downwards."""
    while end - start > 1:
        middle = start + _split(end - start)
        if index < middle:
            yield middle, end
            end = middle
        else:
            yield start, middle
            start = middle


def _subtree(start: int, end: int, nodes: Nodes) -> bytes:
    """The hash over the leaves from start to end: complete subtrees from the getter, folded where it is ragged.

    `start` is a multiple of the smallest power of two that is not below the length, as it always is inside a tree.
    """
    peaks = []
    while start < end:
        level = (end - start).bit_length() - 1
        peaks.append(nodes(level, start >> level))
        start += 1 << level
    return _fold(peaks)


def _fold(peaks: Sequence[bytes]) -> bytes:
    result = peaks[-1]
    for peak in reversed(peaks[:-1]):
        result = node_hash(peak, result)
    return result
