"""Which earlier checkpoints a bundle can be compared with: of each row the first that covers it."""

from __future__ import annotations

import pytest

from checklists.proof.places import Tree, history
from clinic.audit import trail
from clinic.ledger.models import Checkpoint
from clinic.ledger.seal import seal
from tests.makers import now

pytestmark = pytest.mark.usefixtures("ledger")


def test_a_row_is_covered_by_the_first_checkpoint_that_is_larger_than_its_place() -> None:
    """A tree of n leaves has the places 0 … n - 1 (RFC 6962 §2.1): the one that ends just before a row has it not."""
    for number in range(4):
        trail.record(None, "demo.noted", "demo", str(number), at=now())
        seal(now())
    kept = dict(Checkpoint.objects.values_list("size", "note"))
    assert sorted(kept) == [1, 2, 3, 4]
    for position, first in ((0, 1), (1, 2), (2, 3)):
        assert [(one.size, one.note) for one in history(Tree(4), [position], [], now())] == [(first, kept[first])]
    assert history(Tree(4), [3, None], [], now()) == []
