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


def unrecorded(devices: Sequence[Device], changes: Iterable[Change], zone: str) -> list[Unrecorded]:
    """What was fitted in place of another without a change of that setting on the same day or later (common practice,
    no source)."""
    made = [(one.key, one.side, clock.local_day(one.at, zone)) for one in changes]
    found = []
    for device in devices:
        for part in device.parts:
            new = part.key in IN_THE_RECORD and part.worn and any(_before(other, part) for other in device.parts)
            sides = ("", device.side)
            if new and not any(key == part.key and side in sides and day >= part.since for key, side, day in made):
                found.append(Unrecorded(part.key, device.side if len(devices) > 1 else "", part))
    return found


def _before(other: Part, part: Part) -> bool:
    return other.key == part.key and other.since < part.since
