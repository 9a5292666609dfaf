"""A row of a sheet as the fact that it tells: the same row gives the same fact, however often it is sent."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
from typing import Any

from clinic import clock

Row = Mapping[str, Any]
KNEE_KINDS = ("check", "mode_set")


def fact_of(row: Row, number: int, day: date, zone: str) -> dict[str, Any]:
    """The entry (SEMANTICS.md §1) of a row that says enough. `number`: its place on the sheet, which orders rows of the
    same minute."""
    kind, _, detail = row["kind"].partition(":")
    at = clock.instant_of(day, row["time"], zone).isoformat().replace("+00:00", "Z")
    fact: dict[str, Any] = {"id": str(row["id"]), "kind": kind, "at": at, "seq": number}
    fact |= _own(kind, detail, row)
    if row["knee"] and kind in KNEE_KINDS:
        fact["knee"] = row["knee"]
    if row["note"]:
        fact["circumstances" if kind in ("fall", "near_miss") else "note"] = row["note"]
    return fact


def _own(kind: str, detail: str, row: Row) -> dict[str, Any]:
    """The fields of the kind."""
    if kind == "attempt":
        told = {key: row[key] for key in ("skill", "support", "help", "result", "deviations")}
        return told | ({"measures": {row["measure"]: row["value"]}} if row["measure"] else {})
    if kind == "check":
        return {"name": detail, "steps": row["steps"]}
    if kind == "mode_set":
        return {"mode": detail} | ({"support": row["support"]} if row["support"] else {})
    if kind in ("fall", "near_miss"):
        return _present(row, ("skill", "injury") if kind == "fall" else ("skill",))
    return {}


def _present(row: Row, names: tuple[str, ...]) -> dict[str, Any]:
    return {name: row[name] for name in names if row[name]}
