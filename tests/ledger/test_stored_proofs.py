"""Proofs from the stored nodes: those of the definition, for any row and any two sizes, by few reads."""

from __future__ import annotations

import random
from itertools import pairwise
from pathlib import Path

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from clinic.audit import trail
from clinic.audit.leaf import TRAIL
from clinic.ledger import gather, merkle
from clinic.ledger.grow import grow
from clinic.ledger.merkle import Edge, verify_consistency, verify_inclusion
from clinic.ledger.models import Checkpoint
from clinic.ledger.proofs import NotSealed, consistency, inclusion, newest_size
from clinic.ledger.seal import seal
from tests.ledger.definition import mth, path, proof, sha
from tests.ledger.hands import texts
from tests.makers import now

SIZES = (1, 2, 3, 7, 255, 256, 257, 300, 511, 513, 640)


@pytest.fixture
def entries(ledger: Path) -> list[bytes]:
    """A ledger sealed at each of these sizes; the canonical bytes of its rows."""
    for before, size in pairwise((0, *SIZES)):
        for _ in range(size - before):
            trail.record(None, "test.done", "test", str(size), at=now())
        seal(now())
    return texts()


def test_any_row_is_under_any_checkpoint_that_has_it(entries: list[bytes]) -> None:
    chance = random.Random(4)
    for size in SIZES:
        for number in {1, size, *(chance.randrange(1, size + 1) for _ in range(4))}:
            found = inclusion(TRAIL, number, size=size)
            assert found.leaf == sha(b"\0" + entries[found.position])
            assert list(found.path) == path(found.position, entries[:size])
            assert verify_inclusion(found.leaf, found.position, size, found.path, mth(entries[:size]))


def test_any_checkpoint_continues_any_other(entries: list[bytes]) -> None:
    roots = {row.size: bytes(row.root) for row in Checkpoint.objects.all()}
    for first in SIZES:
        for second in SIZES:
            if first <= second:
                found = consistency(first, second)
                assert list(found.path) == proof(first, entries[:second])
                assert verify_consistency(first, second, found.path, roots[first], roots[second])


def test_what_is_not_sealed_has_no_proof(entries: list[bytes]) -> None:
    trail.record(None, "test.done", "test", "late", at=now())
    with pytest.raises(NotSealed, match="641"):
        inclusion(TRAIL, 641)
    with pytest.raises(NotSealed):
        inclusion(TRAIL, 400, size=300)
    with pytest.raises(NotSealed, match="640 leaves"):
        consistency(300, 641)
    assert newest_size() == 640


@pytest.mark.slow
@pytest.mark.django_db
def test_a_proof_reads_no_more_than_256_hashes_a_level(monkeypatch: pytest.MonkeyPatch) -> None:
    """In a ledger of 200,000 leaves; the rows behind them are not needed."""
    size, edge = 200_000, Edge()
    leaves = [number.to_bytes(32, "big") for number in range(size)]
    nodes = grow(edge, leaves)
    gather.write(0, [(TRAIL.code, number + 1, leaf) for number, leaf in enumerate(leaves)], nodes)
    read = 0
    stored = merkle.root

    def counted(hashes: list[bytes]) -> bytes:
        nonlocal read
        read += len(hashes)
        return stored(hashes)

    monkeypatch.setattr(merkle, "root", counted)
    for number in (1, 77_777, 131_072, 199_999, size):
        read = 0
        with CaptureQueriesContext(connection) as asked:
            found = inclusion(TRAIL, number, size=size)
        assert verify_inclusion(found.leaf, found.position, size, found.path, edge.root())
        assert read <= 256 * size.bit_length()
        assert len(asked) <= 1 + 2 * size.bit_length()
