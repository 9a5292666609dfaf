"""The ledger's tree against the published vectors, the definition word for word, and a second implementation.

pymerkle is a second implementation of roots and inclusion paths; its consistency proofs are of a kind of its own, so
consistency is compared with the definition alone.
"""

from __future__ import annotations

import random

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pymerkle import InmemoryTree

from clinic.ledger.merkle import (
    EMPTY_ROOT,
    Edge,
    NotATree,
    consistency_path,
    inclusion_path,
    leaf_hash,
    node_hash,
    nodes_of,
    root,
    verify_consistency,
    verify_inclusion,
)
from tests.ledger import definition
from tests.ledger.vectors import CONSISTENCY, ENTRIES, HASHES, INCLUSION, ROOTS, hashes

LEAVES = [leaf_hash(entry) for entry in ENTRIES]
NODES = nodes_of(LEAVES)

entries = st.lists(st.binary(max_size=40), min_size=1, max_size=70)


def test_leaf_and_node_hashes_are_the_published_ones() -> None:
    assert hashes("h0 h1 h2 h3 h4 h5 h6 h7") == LEAVES
    assert node_hash(HASHES["h0"], HASHES["h1"]) == HASHES["n01"]
    assert node_hash(HASHES["n45"], HASHES["h6"]) == HASHES["n46"]


@pytest.mark.parametrize("size", range(9))
def test_roots_are_the_published_ones(size: int) -> None:
    assert root(LEAVES[:size]) == ROOTS[size] == definition.mth(ENTRIES[:size])


@pytest.mark.parametrize(("case", "path"), INCLUSION.items(), ids=str)
def test_inclusion_paths_are_the_published_ones(case: tuple[int, int], path: str) -> None:
    index, size = case
    assert inclusion_path(index, size, NODES) == hashes(path)
    assert verify_inclusion(LEAVES[index], index, size, hashes(path), ROOTS[size])


@pytest.mark.parametrize(("case", "path"), CONSISTENCY.items(), ids=str)
def test_consistency_paths_are_the_published_ones(case: tuple[int, int], path: str) -> None:
    first, second = case
    assert consistency_path(first, second, NODES) == hashes(path)
    assert verify_consistency(first, second, hashes(path), ROOTS[first], ROOTS[second])


@settings(max_examples=60, deadline=None)
@given(entries)
def test_roots_and_paths_are_those_of_the_definition(data: list[bytes]) -> None:
    leaves = [leaf_hash(entry) for entry in data]
    nodes = nodes_of(leaves)
    size = len(data)
    whole = root(leaves)
    assert whole == definition.mth(data)
    for index in range(size):
        path = inclusion_path(index, size, nodes)
        assert path == definition.path(index, data)
        assert verify_inclusion(leaves[index], index, size, path, whole)
    for first in range(1, size + 1):
        path = consistency_path(first, size, nodes)
        assert path == definition.proof(first, data)
        assert verify_consistency(first, size, path, definition.mth(data[:first]), whole)


def test_a_second_implementation_agrees_on_roots_and_inclusion() -> None:
    """pymerkle 7.0.0 (its index counts from 1, and its path begins with the leaf)."""
    chance = random.Random(20261125)
    data = [chance.randbytes(chance.randrange(60)) for _ in range(600)]
    tree = InmemoryTree()
    tree.append_entries(data)
    leaves = [leaf_hash(entry) for entry in data]
    nodes = nodes_of(leaves)
    edge = Edge()
    for size, leaf in enumerate(leaves, start=1):
        edge.append(leaf)
        assert edge.root() == tree.get_root(size)
    for _ in range(400):
        size = chance.randrange(1, 601)
        index = chance.randrange(size)
        assert inclusion_path(index, size, nodes) == tree.prove_inclusion(index + 1, size).path[1:]


@settings(max_examples=100, deadline=None)
@given(st.lists(st.binary(min_size=32, max_size=32), max_size=80), st.data())
def test_an_edge_written_down_and_read_back_grows_like_one_that_was_not(
    leaves: list[bytes], data: st.DataObject
) -> None:
    cut = data.draw(st.integers(0, len(leaves)))
    edge = Edge()
    edge.extend(leaves[:cut])
    again = Edge.load(edge.dump())
    grown = again.copy()
    grown.extend(leaves[cut:])
    assert grown.root() == root(leaves)
    assert grown.size == len(leaves)
    assert again.root() == root(leaves[:cut])


def test_the_empty_tree_has_the_hash_of_nothing() -> None:
    assert Edge().root() == EMPTY_ROOT == ROOTS[0]
    assert Edge.load(Edge().dump()) == Edge()


@pytest.mark.parametrize("dumped", [b"", b"\0" * 7, b"\0" * 8 + b"x" * 32, (3).to_bytes(8, "big") + b"x" * 63])
def test_what_is_no_edge_is_refused(dumped: bytes) -> None:
    with pytest.raises(NotATree):
        Edge.load(dumped)


def test_a_leaf_of_another_length_is_refused() -> None:
    with pytest.raises(NotATree):
        Edge().append(b"x" * 31)


@pytest.mark.parametrize(("index", "size"), [(-1, 8), (8, 8), (0, 0)])
def test_there_is_no_path_to_a_leaf_outside_the_tree(index: int, size: int) -> None:
    with pytest.raises(NotATree):
        inclusion_path(index, size, NODES)


@pytest.mark.parametrize(("first", "second"), [(0, 8), (5, 4), (0, 0), (-1, 3)])
def test_there_is_no_consistency_proof_from_nothing_or_backwards(first: int, second: int) -> None:
    with pytest.raises(NotATree):
        consistency_path(first, second, NODES)


def test_an_unfinished_subtree_is_not_given_out_as_complete() -> None:
    with pytest.raises(NotATree):
        nodes_of(LEAVES[:7])(3, 0)
