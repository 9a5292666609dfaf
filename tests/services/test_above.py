"""What only the record knows is asked of whoever registered, of one alone."""

from __future__ import annotations

import pytest

from caseload.above import Above


def test_whoever_registered_is_asked_and_nobody_takes_their_place() -> None:
    doubled: Above[[int], int] = Above("doubles")
    with pytest.raises(LookupError):
        doubled(4)
    twice, other = (lambda n: 2 * n), (lambda n: n)
    doubled.register(twice)
    doubled.register(twice)
    assert doubled(4) == 8
    with pytest.raises(ValueError, match="Somebody else knows of doubles already"):
        doubled.register(other)
    assert doubled(4) == 8
