"""What lists know of an episode without folding it: side, features, opened and closed (caseload.Episode)."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from datetime import datetime

from checklists import domain

CHANGING = frozenset({"episode_opened", "episode_closed", "setting_changed", "struck_out"})
KNEES = ("left", "right")
Projection = tuple[str, list[str], bool, datetime | None, datetime | None]


def changed(came: Sequence[domain.Entry], record: Callable[[], Iterable[domain.Entry]]) -> Projection | None:
    """Side, features, whether a change of knee said them, opened at and closed at, where one of the new entries can
    have changed them; else nothing.

    `record` gives the whole record, the new ones included; it is asked only if need be.
    """
    if any(entry.kind in CHANGING and entry.get("setting") in (None, "knee") for entry in came):
        return of(record())
    return None


def of(entries: Iterable[domain.Entry]) -> Projection:
    """The projection of a record, in any order. The first opening in order counts; struck entries do not."""
    record = list(entries)
    struck = {entry.get("entry") for entry in record if entry.kind == "struck_out"}
    side, opened, closed = "", None, None
    features: dict[str, set[str]] = {knee: set() for knee in KNEES}
    said: set[str] = set()
    for entry in sorted(record, key=lambda one: (one.kind != "episode_opened", one)):
        if entry.id in struck:
            continue
        if entry.kind == "episode_opened" and opened is None:
            side, opened = entry.get("side"), entry.instant
            features = {knee: set(entry.get("features")) for knee in KNEES}
        elif entry.kind == "episode_closed":
            closed = entry.instant
        elif entry.kind == "setting_changed" and entry.get("setting") == "knee":
            named = entry.get("knee") if side == "both" else None
            knees = [knee for knee in KNEES if named in (None, knee)]
            features |= {knee: set(entry.get("features")) for knee in knees}
            said |= {*knees}
    return side, sorted(features["left"] & features["right"]), said == {*KNEES}, opened, closed
