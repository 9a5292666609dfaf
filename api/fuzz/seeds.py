"""Examples to begin from: the conformance set (tests/conformance) and the default protocol."""

from __future__ import annotations

import json
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from clinic.run.places import ROOT

CONFORMANCE = ROOT / "tests" / "conformance"
DEFAULT = ROOT / "checklists" / "protocols" / "above_knee.json"
LONGEST = 40  # entries of one history: enough for every rule, and quick


class NoSeeds(Exception):
    """The conformance set is not here: an installed server has none, a checkout has."""


@dataclass(frozen=True)
class Seeds:
    """Documents, histories and the single entries in them."""

    documents: list[Any] = field(default_factory=list)
    histories: list[list[Any]] = field(default_factory=list)
    entries: list[Any] = field(default_factory=list)


def load() -> Seeds:
    """Everything there is."""
    if not CONFORMANCE.is_dir():
        raise NoSeeds(f"{CONFORMANCE} is not there: run this in a checkout of the repository.")
    seeds = Seeds()
    seeds.documents.append(json.loads(DEFAULT.read_text(encoding="utf-8")))
    for path in sorted((CONFORMANCE / "documents").glob("*.json")):
        seeds.documents.append(json.loads(path.read_text(encoding="utf-8")))
    for case in _cases():
        entries = case.get("entries", [])
        if entries:
            seeds.histories.append(entries[:LONGEST])
            seeds.entries.extend(entries)
        if isinstance(case.get("document"), dict):
            seeds.documents.append(case["document"])
    return seeds


def _cases() -> Iterator[dict[str, Any]]:
    for path in _files():
        content = json.loads(path.read_text(encoding="utf-8"))
        for case in content["cases"]:
            yield case
            for change in case.get("with", []):
                if isinstance(change.get("value"), dict | list):
                    yield {"entries": [], "document": {"rules": change["value"]}}


def _files() -> list[Path]:
    return sorted([*(CONFORMANCE / "cases").glob("*.json"), *(CONFORMANCE / "courses").glob("*.json")])
