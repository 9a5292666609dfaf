"""Where register and record do not say the same: parts that were exchanged by the register while the record has no such
change, so that nothing was set back for them; exchanges of the record whose part the register has not got; and a knee
that both have and name differently."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from uuid import UUID

from caseload.prosthesis.models import PartKind
from caseload.prosthesis.recorded import Named, Recorded, Untold
from caseload.prosthesis.selectors import IN_THE_RECORD, Device, Part
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
        return name_of(self.change.now)


def name_of(words: str) -> tuple[str, str]:
    """What a part is called and its serial number, as far as the words of a change name them apart."""
    name, _comma, serial = words.rpartition(", ")
    is_one = bool(name) and " " not in serial and any(sign.isdigit() for sign in serial)
    return (name, serial) if is_one else (words, "")


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


@dataclass(frozen=True, slots=True)
class Apart:
    """A knee that is worn and that record and register name differently. `side` where there are two prostheses."""

    device: Device
    side: str
    part: Part
    change: Change


def apart(devices: Sequence[Device], changes: Sequence[Change], zone: str) -> list[Apart]:
    """Of each prosthesis the knee that is worn, where its change names another: what was mistyped in one of the two."""
    both = len(devices) > 1
    knees = [(device, device.knee) for device in devices if device.knee]
    found = [(device, knee, change_of(knee, device, changes, zone, both=both)) for device, knee in knees]
    return [
        Apart(device, device.side if both else "", knee, change)
        for device, knee, change in found
        if change and _is_another(knee, change.now)
    ]


def change_of(part: Part, device: Device, changes: Sequence[Change], zone: str, *, both: bool) -> Change | None:
    """The change, newest first, that put in a part: what names it, and of a knee whatever its day says. Nothing where
    the record names no such part, as of a first knee that has what was recorded when care began."""
    sides = (device.side,) if both else ("", device.side)  # of two knees nobody has said which
    made = [one for one in changes if one.key == part.key and one.side in sides and one.now]
    named = next((one for one in made if _is_it(part, one.now)), None)
    if named or part.key != PartKind.KNEE:
        return named
    if part == device.knee:
        alone = any(one.part == part for one in unrecorded([device], made, zone))
        return made[0] if made and not alone and not unregistered(device, made, zone, part.key) else None
    return next((one for one in made if clock.local_day(one.at, zone) == part.since), None)


def put_in_by(struck: Change, device: Device, standing: Sequence[Change], zone: str) -> Part | None:
    """The part of the register that a change had put in which was struck out since: what it names, else what began on
    its day and no other change accounts for."""
    parts = [part for part in device.parts if part.key == struck.key]
    day = clock.local_day(struck.at, zone)
    others = any(one.key == struck.key and clock.local_day(one.at, zone) == day for one in standing)
    named = next((part for part in parts if struck.now and _is_it(part, struck.now)), None)
    return named or next((part for part in parts if part.since == day and not others), None)


def _is_it(part: Part, words: str) -> bool:
    """Whether words that somebody typed name this part."""
    said = " ".join(words.split()).casefold()
    if said in (part.words.casefold(), part.description.casefold()):
        return True
    number = re.escape(part.serial.casefold())
    return bool(number) and re.search(rf"(?<![\w-]){number}(?![\w-])", said) is not None  # DK-5 is not DK-51


def _is_another(part: Part, words: str) -> bool:
    """Whether words that somebody typed name another part. A number that the register has not got contradicts none."""
    return not _is_it(part, words) and (bool(part.serial) or not _is_it(part, name_of(words)[0]))


def recorded(episode_id: UUID, worn: Sequence[Device], zone: str) -> Recorded:
    """What the record of an episode says of the parts in the register. One statement."""
    made, both = changes(episode_id), len(worn) > 1
    lacks = [unregistered(device, made, zone, PartKind.KNEE) for device in worn]
    other = {one.part.component_id for one in apart(worn, made, zone)}
    parts = [(device, part) for device in worn for part in device.parts if part.in_the_record]
    found = [(part.component_id, change_of(part, device, made, zone, both=both)) for device, part in parts]
    return Recorded(
        {one.device.prosthesis_id: Untold(one.change.at, one.change.now) for one in lacks if one},
        {key: Named(one.entry, one.at, one.now, name_of(one.now), key in other) for key, one in found if one},
    )
