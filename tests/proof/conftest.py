"""Bundles from a sealed ledger: made once in a process, since nothing in them changes."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.ledger.conftest import ledger
from tests.proof.scene import Made, World, a_world, make

__all__ = ["ledger"]
_MADE: list[Made] = []


@pytest.fixture
def world(ledger: Path) -> World:
    """An episode with a signed skill, sealed, in the database of the test."""
    return a_world()


@pytest.fixture
def made(ledger: Path) -> Made:
    """Good bundles, as files."""
    if not _MADE:
        _MADE.append(make(ledger))
    return _MADE[0]
