"""A ledger of a test's own: keys, and a file of checkpoints, that no other test has used."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from clinic.ledger import keys
from clinic.ledger.sources import sources
from tests.ledger.hands import behind

ORIGIN = "alder-reach.example/ledger"


@pytest.fixture
def ledger(settings: Any, tmp_path: Path, transactional_db: None) -> Iterator[Path]:
    """The folder with the keys; rows are written and sealed with these until the test ends."""
    settings.LEDGER_KEYS = str(keys.made_in(tmp_path / "keys", ORIGIN))
    settings.LEDGER_CHECKPOINT_FILE = str(tmp_path / "checkpoints.txt")
    keys.forget()
    with behind() as other:  # emptied tables go on counting; a new ledger begins at one
        for source in sources():
            other.execute(f"ALTER SEQUENCE {source.table}_number_seq RESTART")
    yield tmp_path / "keys"
    keys.forget()
