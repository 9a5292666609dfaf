"""Letting the tree grow by many leaves at once, and keeping what proofs will need of it."""

from __future__ import annotations

from collections.abc import Sequence
from hashlib import sha256

from clinic.ledger.merkle import Edge

STRIDE = 8  # nodes of every eighth level are kept: 256 leaves, 256 of those, …
_BLOCK = 1 << STRIDE

Node = tuple[int, int, bytes]  # level, index, hash


def grow(edge: Edge, leaves: Sequence[bytes]) -> list[Node]:
    """Append leaf hashes to the edge; the complete subtrees of every eighth level that this finishes, in order."""
    nodes: list[Node] = []
    ragged = min(-edge.size % _BLOCK, len(leaves))
    whole = (len(leaves) - ragged) // _BLOCK * _BLOCK
    for leaf in leaves[:ragged]:
        _append(edge, leaf, 0, nodes)
    for start in range(ragged, ragged + whole, _BLOCK):
        _append(edge, _folded(leaves[start : start + _BLOCK]), STRIDE, nodes)
    for leaf in leaves[ragged + whole :]:
        _append(edge, leaf, 0, nodes)
    return nodes


def _folded(level: Sequence[bytes]) -> bytes:
    """The root over a power of two of hashes, level by level."""
    while len(level) > 1:
        level = [sha256(b"\x01" + left + right).digest() for left, right in zip(level[::2], level[1::2], strict=True)]
    return level[0]


def _append(edge: Edge, node: bytes, level: int, nodes: list[Node]) -> None:
    """Append a complete subtree of this level where the edge's size is a multiple of its width."""
    index, peaks = edge.size >> level, edge.peaks
    edge.size += 1 << level
    while True:
        if level and level % STRIDE == 0:
            nodes.append((level, index, node))
        if not index & 1:
            break
        node = sha256(b"\x01" + peaks.pop() + node).digest()
        index, level = index >> 1, level + 1
    peaks.append(node)
