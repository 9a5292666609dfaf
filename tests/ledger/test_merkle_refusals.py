"""What the verification of proofs must refuse: every single change to a good proof of every shape up to 40 leaves."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from clinic.ledger.merkle import (
    consistency_path,
    inclusion_path,
    leaf_hash,
    nodes_of,
    root,
    verify_consistency,
    verify_inclusion,
)
from tests.ledger.vectors import ENTRIES, HASHES, ROOTS

MOST = 40
LEAVES = [leaf_hash(number.to_bytes(2, "big")) for number in range(MOST)]
NODES = nodes_of(LEAVES)
ROOT = [root(LEAVES[:size]) for size in range(MOST + 1)]

Path = list[bytes]


def flipped(data: bytes, bit: int) -> bytes:
    changed = bytearray(data)
    changed[bit // 8 % len(data)] ^= 1 << bit % 8
    return bytes(changed)


def spoiled(path: Path) -> Iterator[Path]:
    """A path with a bit flipped, a node dropped, added, repeated, swapped, cut short or made longer."""
    for place, node in enumerate(path):
        yield [*path[:place], flipped(node, place * 37), *path[place + 1 :]]
        yield path[:place] + path[place + 1 :]
        yield [*path[:place], node, *path[place:]]
        yield [*path[:place], node[:31], *path[place + 1 :]]
        yield [*path[:place], node + b"\0", *path[place + 1 :]]
        yield [*path[:place], b"", *path[place + 1 :]]
        for other in range(place):
            if path[other] != node:
                swapped = list(path)
                swapped[other], swapped[place] = node, path[other]
                yield swapped
    yield [*path, LEAVES[0]]
    yield [LEAVES[0], *path]
    yield [*path, b""]


def inclusions() -> Iterator[tuple[int, int, Path]]:
    for size in range(1, MOST + 1):
        for index in range(size):
            yield index, size, inclusion_path(index, size, NODES)


def consistencies() -> Iterator[tuple[int, int, Path]]:
    for second in range(1, MOST + 1):
        for first in range(1, second + 1):
            yield first, second, consistency_path(first, second, NODES)


def test_no_spoiled_inclusion_path_is_taken() -> None:
    tried = 0
    for index, size, path in inclusions():
        assert verify_inclusion(LEAVES[index], index, size, path, ROOT[size])
        for bad in spoiled(path):
            tried += 1
            assert not verify_inclusion(LEAVES[index], index, size, bad, ROOT[size]), (index, size)
    assert tried > 20_000


def test_no_inclusion_is_taken_for_another_leaf_index_size_or_root() -> None:
    for index, size, path in inclusions():
        leaf = LEAVES[index]
        assert not verify_inclusion(flipped(leaf, 9), index, size, path, ROOT[size])
        assert not verify_inclusion(leaf[:31], index, size, path, ROOT[size])
        assert not verify_inclusion(leaf, index, size, path, flipped(ROOT[size], 5))
        assert not verify_inclusion(leaf, index, size, path, ROOT[size][:31])
        assert not verify_inclusion(leaf, index, size, path, ROOT[size - 1])
        assert not verify_inclusion(leaf, index - size, size, path, ROOT[size])
        assert not verify_inclusion(leaf, index + size, size, path, ROOT[size])
        for other in range(size):
            assert other == index or not verify_inclusion(leaf, other, size, path, ROOT[size]), (index, other, size)


def test_no_spoiled_consistency_path_is_taken() -> None:
    tried = 0
    for first, second, path in consistencies():
        assert verify_consistency(first, second, path, ROOT[first], ROOT[second])
        for bad in spoiled(path):
            tried += 1
            assert not verify_consistency(first, second, bad, ROOT[first], ROOT[second]), (first, second)
    assert tried > 20_000


def test_no_consistency_is_taken_for_other_sizes_or_roots() -> None:
    for first, second, path in consistencies():
        old, new = ROOT[first], ROOT[second]
        assert not verify_consistency(first, second, path, flipped(old, 3), new)
        assert not verify_consistency(first, second, path, old, flipped(new, 3))
        assert not verify_consistency(first, second, path, old[:31], new)
        assert not verify_consistency(first, second, path, old, new + b"\0")
        assert not verify_consistency(0, second, path, old, new)
        assert not verify_consistency(-first, second, path, old, new)
        if first != second:
            assert not verify_consistency(second, first, path, new, old)
            assert not verify_consistency(first, second, path, new, old)
            assert not verify_consistency(first, second, [], old, new)
            assert not verify_consistency(second, second, path, old, new)
        assert not verify_consistency(first + 1, second, path, old, new)


@pytest.mark.parametrize("size", range(1, 9))
def test_an_empty_tree_proves_nothing(size: int) -> None:
    """m = 0: a verifier that starts from it takes any new root; one of two faults that public probes found."""
    assert not verify_consistency(0, size, [], ROOTS[0], ROOTS[size])
    assert not verify_consistency(0, size, [ROOTS[size]], ROOTS[0], ROOTS[size])
    assert not verify_consistency(0, 0, [], ROOTS[0], ROOTS[0])


def test_hashes_of_another_length_are_refused() -> None:
    """The other fault: the two halves of a node moved between the hashes give the same bytes to hash."""
    left, right = HASHES["h0"], HASHES["h1"]
    assert verify_inclusion(left, 0, 2, [right], ROOTS[2])
    assert not verify_inclusion(left + right[:1], 0, 2, [right[1:]], ROOTS[2])
    assert not verify_inclusion(left[:-1], 0, 2, [left[-1:] + right], ROOTS[2])
    assert not verify_consistency(1, 2, [right[1:]], left + right[:1], ROOTS[2])


def test_equal_sizes_need_equal_roots_and_no_path() -> None:
    assert verify_consistency(4, 4, [], ROOTS[4], ROOTS[4])
    assert not verify_consistency(4, 4, [HASHES["h0"]], ROOTS[4], ROOTS[4])
    assert not verify_consistency(4, 4, [], ROOTS[4], ROOTS[5])


def test_a_node_cannot_pass_for_a_leaf() -> None:
    """The prefixes of leaf and node keep apart what would otherwise hash alike."""
    assert leaf_hash(HASHES["h0"] + HASHES["h1"]) != HASHES["n01"]
    assert not verify_inclusion(leaf_hash(ENTRIES[0] + ENTRIES[1]), 0, 1, [], ROOTS[2])


@settings(max_examples=300, deadline=None)
@given(
    st.integers(-2, 50),
    st.integers(-2, 50),
    st.lists(st.one_of(st.sampled_from(LEAVES), st.binary(max_size=33)), max_size=8),
    st.sampled_from(ROOT),
    st.sampled_from(ROOT),
)
def test_what_is_made_up_is_refused_and_breaks_nothing(
    first: int, second: int, path: Path, old: bytes, new: bytes
) -> None:
    if first == second:
        fits = first > 0 and not path and old == new
    else:
        sizes = 0 < first < second <= MOST and old == ROOT[first] and new == ROOT[second]
        fits = sizes and path == consistency_path(first, second, NODES)
    assert verify_consistency(first, second, path, old, new) == fits
    if 0 <= first < MOST:
        fits = first < second <= MOST and new == ROOT[second] and path == inclusion_path(first, second, NODES)
        assert verify_inclusion(LEAVES[first], first, second, path, new) == fits
