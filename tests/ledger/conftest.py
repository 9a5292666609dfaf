"""A ledger of a test's own: keys, and a file of checkpoints, that no other test has used."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from clinic.ledger import keys

ORIGIN = "alder-reach.example/ledger"


@pytest.fixture
def ledger(settings: Any, tmp_path: Path, transactional_db: None) -> Iterator[Path]:
    """The folder with the keys; rows are written and sealed with these until the test ends."""
    settings.LEDGER_KEYS = str(keys.made_in(tmp_path / "keys", ORIGIN))
    settings.LEDGER_CHECKPOINT_FILE = str(tmp_path / "checkpoints.txt")
    keys.forget()
    yield tmp_path / "keys"
    keys.forget()
