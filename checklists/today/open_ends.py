"""What a session or a knee leaves open at the end of a day, in words. Pure: the core and the fold of sessions judge."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime, tzinfo
from typing import Any

from checklists.floor.sessions import Session
from checklists.pictures.words import MODE


@dataclass(frozen=True, slots=True)
class OpenEnd:
    """Something that is not finished: its mark and its sentence."""

    mark: str
    text: str


def of_sessions(sessions: Iterable[Session], zone: tzinfo) -> list[OpenEnd]:
    """Sessions that are still open, and checks that were not made. A check that was made and not good is no gap."""
    found = []
    for session in sessions:
        name = f"Session of {_clock(session.since, zone)}" if session.since else "Session that nobody opened"
        if session.is_open:
            found.append(OpenEnd("waiting", f"{name}: still open"))
        if not session.start and (session.attempts or session.until):
            found.append(OpenEnd("check", f"{name}: no start check"))
        if not session.end and not session.is_open and (session.attempts or session.until):
            found.append(OpenEnd("check", f"{name}: no end check"))
    return found


def of_knees(knees: Iterable[Mapping[str, Any]], zone: tzinfo) -> list[OpenEnd]:
    """Knees of which walking mode is not the last thing that was proven. Nothing was ever seen: nothing is open."""
    return [_knee(knee, zone) for knee in knees if knee["at"] and not _is_home(knee)]


def _is_home(knee: Mapping[str, Any]) -> bool:
    return bool(knee["mode"] == "walking" and knee["proof"] == "proven")


def _knee(knee: Mapping[str, Any], zone: tzinfo) -> OpenEnd:
    name = f"{knee['knee'].capitalize()} knee" if knee["knee"] else "Knee"
    when, mode = _clock(knee["at"], zone), MODE[knee["mode"] or "unknown"]
    if knee["mode"] is None:
        return OpenEnd("stop", f"{name} exchanged at {when}: nothing is known of it")
    if knee["proof"] == "failed":
        return OpenEnd("stop", f"{name} checked for {mode} at {when}, and not so")
    if knee["proof"] != "proven":
        return OpenEnd("stop", f"{name} set to {mode} at {when} and not proven")
    return OpenEnd("stop", f"{name} still {mode}, proven at {when}: the way back to walking is not completed")


def _clock(instant: str, zone: tzinfo) -> str:
    """'10:46', with the day where it says more: '24 Nov, 10:46' is for a knee that was left so on another day."""
    return f"{datetime.fromisoformat(instant).astimezone(zone):%-d %b, %H:%M}"
