"""Reads the conformance set (see tests/conformance/README.md) and says where an output differs from expected."""

from __future__ import annotations

import json
from collections.abc import Iterator
from copy import deepcopy
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

FOLDER = Path(__file__).parent / "conformance"
DEFAULT_PROTOCOL = Path(__file__).parent.parent / "checklists" / "protocols" / "above_knee.json"


@dataclass(frozen=True)
class Case:
    """One case: `expected` is a list of lines, or `refusal` is the path to the fault in the document."""

    name: str
    document: Any
    entries: list[dict[str, Any]]
    at: str | None
    expected: list[dict[str, Any]]
    refusal: list[str | int] | None


def shared_document(name: str) -> Any:
    path = DEFAULT_PROTOCOL if name == "above_knee" else FOLDER / "documents" / f"{name}.json"
    return json.loads(path.read_text(encoding="utf-8"))


def changed(document: Any, changes: list[dict[str, Any]]) -> Any:
    """The document with each change made: a value put in a place, or what stands there removed."""
    document = deepcopy(document)
    for change in changes:
        *way, last = change["place"]
        holder = document
        for step in way:
            holder = holder[step]
        if change.get("remove"):
            del holder[last]
        elif isinstance(holder, list) and last == len(holder):
            holder.append(change["value"])
        else:
            holder[last] = change["value"]
    return document


def all_cases() -> Iterator[Case]:
    """Every case. They are read once for all who ask: nobody changes one in place."""
    yield from _read()


@cache
def _read() -> tuple[Case, ...]:
    paths = sorted([*(FOLDER / "cases").glob("*.json"), *(FOLDER / "courses").glob("*.json")])
    return tuple(case for path in paths for case in _in_file(path))


def _in_file(path: Path) -> Iterator[Case]:
    content = json.loads(path.read_text(encoding="utf-8"))
    for case in content["cases"]:
        document = case.get("document", content.get("document"))
        if isinstance(document, str):
            document = shared_document(document)
        yield Case(
            name=f"{path.stem}/{case['name']}",
            document=changed(document, case["with"]) if case.get("with") else document,
            entries=case.get("entries", []),
            at=case.get("at"),
            expected=case.get("expected", []),
            refusal=case.get("expected_refusal"),
        )


def differences(expected: list[dict[str, Any]], got: list[dict[str, Any]]) -> list[str]:
    """What an output says otherwise than expected; empty where it is right."""
    found = []
    if [line["episode"] for line in expected] != [line["episode"] for line in got]:
        return [f"episodes {[line['episode'] for line in got]}"]
    for want, have in zip(expected, got, strict=True):
        if set(have) != {"episode", "at", "alerts", "skills", "refused"}:
            found.append(f"fields {sorted(have)}")
        if "at" in want and want["at"] != have["at"]:
            found.append(f"at {have['at']}, not {want['at']}")
        if "alerts" in want and want["alerts"] != have["alerts"]:
            found.append(f"alerts {have['alerts']}, not {want['alerts']}")
        for skill, status in want.get("skills", {}).items():
            if have["skills"].get(skill) != status:
                found.append(f"{skill} {have['skills'].get(skill)}, not {status}")
        if "refused" in want and not _same_refusals(want["refused"], have["refused"]):
            found.append(f"refused {have['refused']}, not {want['refused']}")
    return found


def _same_refusals(want: list[dict[str, Any]], have: list[dict[str, Any]]) -> bool:
    """In the same order; an expected error is the beginning of the text. Repetitions may be left out."""
    once = [one for i, one in enumerate(have) if one not in have[:i]]
    return len(want) == len(once) and all(
        wanted["entry"] == one["entry"] and one["error"].startswith(wanted["error"])
        for wanted, one in zip(want, once, strict=True)
    )


def names_the_place(place: str, path: list[str | int], document: Any) -> bool:
    """Whether a text leads to the fault: it has, in order, each key of the path, and for each position in a list
    that position or the key of what stands there."""
    begin = 0
    holder = document
    for step in path:
        choices = [str(step)]
        try:
            holder = holder[step]
        except (KeyError, IndexError, TypeError):
            holder = None
        if isinstance(step, int) and isinstance(holder, dict) and isinstance(holder.get("key"), str):
            choices.append(holder["key"])
        if isinstance(step, int) and isinstance(holder, str):
            choices.append(holder)
        ends = [place.find(choice, begin) + len(choice) for choice in choices if place.find(choice, begin) >= 0]
        if not ends:
            return False
        begin = min(ends)
    return True
