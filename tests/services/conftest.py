"""Fixtures that several tests of services share."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from checklists.keeping import erasing


@pytest.fixture
def erasing_here(settings: Any, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The list of erasures lies in a folder of the test; that it is oneself is shown in a test of its own."""
    settings.ERASURES_FILE = str(tmp_path / "erasures.jsonl")
    monkeypatch.setattr(erasing, "confirm", lambda actor, proof: None)
