"""Where register and record do not say the same: parts that were exchanged by the register while the record has no such
change, so that nothing was set back for them; and exchanges of the record whose part the register has not got."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from uuid import UUID

from caseload.prosthesis.models import PartKind
from caseload.prosthesis.selectors import IN_THE_RECORD, Device, Part
from caseload.prosthesis.untold import Untold
from checklists.person.settings import Change, changes
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


@dataclass(frozen=True, slots=True)
class Unregistered:
    """The latest exchange of a kind of part, in the record alone: a tablet or a program sent it. `day` by the site."""

    device: Device
    change: Change
    day: date

    @property
    def name(self) -> tuple[str, str]:
        """What the part is called and its serial number, as far as the change names them apart."""
        name, _comma, serial = self.change.now.rpartition(", ")
        is_one = bool(name) and " " not in serial and any(sign.isdigit() for sign in serial)
        return (name, serial) if is_one else (self.change.now, "")


def unregistered(device: Device, changes: Iterable[Change], zone: str, kind: str) -> Unregistered | None:
    """The latest change of a kind of part, newest first, where no part of this prosthesis is that which it names, was
    fitted since, or was fitted in place of another shortly before with no other change of its own."""
    made = [one for one in changes if one.key == kind and one.side in ("", device.side) and one.now]
    if not made:
        return None
    last, day = made[0], clock.local_day(made[0].at, zone)
    parts = [part for part in device.parts if part.key == kind]
    if any(part.since >= day or _is_it(part, last.now) for part in parts):
        return None
    worn = device.worn(kind)
    if worn and device.before(worn) and [one for one in made if clock.local_day(one.at, zone) >= worn.since] == [last]:
        return None
    return Unregistered(device, last, day)


def _is_it(part: Part, words: str) -> bool:
    """Whether words that somebody typed name this part."""
    said = " ".join(words.split()).casefold()
    return said in (part.words.casefold(), part.description.casefold()) or (
        bool(part.serial) and part.serial.casefold() in said
    )


def untold(episode_id: UUID, worn: Sequence[Device], zone: str) -> dict[UUID, Untold]:
    """The exchanges of a knee that the register of an episode lacks, by prosthesis. One statement."""
    made = changes(episode_id)
    lacks = [unregistered(device, made, zone, PartKind.KNEE) for device in worn]
    return {one.device.prosthesis_id: Untold(one.change.at, one.change.now) for one in lacks if one}
