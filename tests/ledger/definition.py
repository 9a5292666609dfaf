"""The tree of RFC 9162 §2.1, word for word and slow: what the ledger's quick one is compared with."""

from __future__ import annotations

import hashlib
from collections.abc import Sequence

Leaves = Sequence[bytes]


def sha(data: bytes) -> bytes:
    return hashlib.sha256(data).digest()


def split(n: int) -> int:
    """The largest power of two smaller than n."""
    k = 1
    while k * 2 < n:
        k *= 2
    return k


def mth(entries: Leaves) -> bytes:
    """§2.1.1"""
    if not entries:
        return sha(b"")
    if len(entries) == 1:
        return sha(b"\x00" + entries[0])
    k = split(len(entries))
    return sha(b"\x01" + mth(entries[:k]) + mth(entries[k:]))


def path(m: int, entries: Leaves) -> list[bytes]:
    """§2.1.3.1"""
    if len(entries) == 1:
        return []
    k = split(len(entries))
    if m < k:
        return [*path(m, entries[:k]), mth(entries[k:])]
    return [*path(m - k, entries[k:]), mth(entries[:k])]


def proof(m: int, entries: Leaves) -> list[bytes]:
    """§2.1.4.1"""
    return subproof(m, entries, whole=True)


def subproof(m: int, entries: Leaves, *, whole: bool) -> list[bytes]:
    if m == len(entries):
        return [] if whole else [mth(entries)]
    k = split(len(entries))
    if m <= k:
        return [*subproof(m, entries[:k], whole=whole), mth(entries[k:])]
    return [*subproof(m - k, entries[k:], whole=False), mth(entries[:k])]
