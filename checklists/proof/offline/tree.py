"""The tree of RFC 9162: is a leaf in it, and does one tree go on from another?"""

from __future__ import annotations

import hashlib


def sha(data: bytes) -> bytes:
    """SHA-256."""
    return hashlib.sha256(data).digest()


def node(left: bytes, right: bytes) -> bytes:
    """The hash of a node over two others, RFC 9162 §2.1.1."""
    return sha(b"\x01" + left + right)


def included(leaf: bytes, index: int, size: int, path: list[bytes], root: bytes) -> bool:
    """RFC 9162 §2.1.3.2: whether the path leads from the leaf at this index to the root of the tree of this size."""
    if not 0 <= index < size or any(len(one) != 32 for one in [leaf, root, *path]):
        return False
    fn, sn, result = index, size - 1, leaf
    for step in path:
        if sn == 0:
            return False
        if fn & 1 or fn == sn:
            result = node(step, result)
            while not fn & 1 and fn:
                fn, sn = fn >> 1, sn >> 1
        else:
            result = node(result, step)
        fn, sn = fn >> 1, sn >> 1
    return sn == 0 and result == root


def continued(first: int, second: int, path: list[bytes], old: bytes, new: bytes) -> bool:
    """RFC 9162 §2.1.4.2: whether the first tree is the beginning of the second."""
    if not 0 < first <= second or any(len(one) != 32 for one in [old, new, *path]):
        return False
    if first == second:
        return not path and old == new
    steps = [old, *path] if first & (first - 1) == 0 else list(path)
    if not steps:
        return False
    fn, sn = first - 1, second - 1
    while fn & 1:
        fn, sn = fn >> 1, sn >> 1
    left = right = steps[0]
    for step in steps[1:]:
        if sn == 0:
            return False
        if fn & 1 or fn == sn:
            left, right = node(step, left), node(step, right)
            while not fn & 1 and fn:
                fn, sn = fn >> 1, sn >> 1
        else:
            right = node(right, step)
        fn, sn = fn >> 1, sn >> 1
    return sn == 0 and left == old and right == new


def unhex(path: list[str]) -> list[bytes]:
    """Hashes as a bundle writes them."""
    return [bytes.fromhex(one) for one in path]
