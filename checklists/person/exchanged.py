"""Parts that the register says were exchanged while the record has no such change: nothing was set back for them."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from caseload.prosthesis.selectors import IN_THE_RECORD, Device, Part
from checklists.person.settings import Change
from clinic import clock


@dataclass(frozen=True, slots=True)
class Unrecorded:
    """A part that is worn in place of another without its change. `side` where there are two prostheses."""

    setting: str
    side: str
    part: Part
    old: Part


def unrecorded(devices: Sequence[Device], changes: Iterable[Change], zone: str) -> list[Unrecorded]:
    """What was fitted in place of another without a change of that setting on the same day or later (common practice,
    no source)."""
    made = [(one.key, one.side, clock.local_day(one.at, zone)) for one in changes]
    found = []
    for device in devices:
        for part in device.parts:
            old = device.before(part) if part.key in IN_THE_RECORD and part.worn else None
            sides = ("", device.side)
            if old and not any(key == part.key and side in sides and day >= part.since for key, side, day in made):
                found.append(Unrecorded(part.key, device.side if len(devices) > 1 else "", part, old))
    return found
