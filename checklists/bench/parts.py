"""What recording a change at the Bench does to the register, if anything."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum

from caseload.prosthesis.models import PartKind
from caseload.prosthesis.selectors import IN_THE_RECORD, Device, Part
from checklists.bench.cost import Cost
from checklists.person.exchanged import Unrecorded, Unregistered, put_in_by, unregistered
from checklists.person.settings import Change


class Stage(StrEnum):
    """What the form writes."""

    CHANGE = "change"  # a fact of the record
    EXCHANGE = "exchange"  # a fact of the record, and the part in the register
    AGAIN = "again"  # a fact of the record, and what the part is called that the register has of it already
    FIRST = "first"  # the first knee in the register, and what it has where the record says otherwise
    REGISTER = "register"  # the part in the register: its exchange is in the record already


@dataclass(frozen=True, slots=True)
class Way:
    """How somebody came to the form. `side`: of the prosthesis in hand, left or right; `new`: from the register, with a
    new part; `another`: a further exchange, although the register has not got the latest."""

    side: str = ""
    new: bool = False
    another: bool = False

    @property
    def carried(self) -> list[tuple[str, str]]:
        """As an address says it."""
        said = {"side": self.side, "new": "1" if self.new else "", "another": "1" if self.another else ""}
        return [(name, value) for name, value in said.items() if value]


@dataclass(frozen=True, slots=True)
class InHand:
    """What the form writes, to which prosthesis (where that is certain), and the exchange that the register lacks; or
    the part that the register has already, and the change that was struck out and is recorded again."""

    stage: Stage
    device: Device | None = None
    lacks: Unregistered | None = None
    part: Part | None = None
    struck: Change | None = None

    @property
    def is_first(self) -> bool:
        """Whether the part that is recorded again was put in place of none."""
        return bool(self.part and self.device and not self.device.before(self.part))


def in_hand(
    setting: str, worn: Sequence[Device], cost: Cost, missing: Sequence[Unrecorded], zone: str, way: Way
) -> InHand:
    """What a change of `setting` does. `cost`: of it, with every change so far; `missing`: the parts that the register
    has and the record has not."""
    struck = _struck(setting, cost, way)
    mine = [one for one in worn if not way.side or one.side == way.side]
    if setting not in IN_THE_RECORD or not mine:
        return InHand(Stage.CHANGE, struck=struck)
    device = mine[0] if len(mine) == 1 else None
    part = put_in_by(struck, device, cost.standing, zone) if struck and device else None
    if part:
        return InHand(Stage.AGAIN, device, part=part, struck=struck)
    if device and not way.another and (setting == PartKind.KNEE or way.new):
        lacks = unregistered(device, cost.standing, zone, setting)
        if lacks:
            return InHand(Stage.REGISTER, device, lacks)
    part = next((one.part for one in missing if one.setting == setting and one.side in ("", way.side)), None)
    if part:
        return InHand(Stage.AGAIN, device, part=part, struck=struck)
    if device and setting == PartKind.KNEE and not device.had(PartKind.KNEE):
        return InHand(Stage.FIRST, device, struck=struck)
    return InHand(Stage.EXCHANGE, device, struck=struck)


def _struck(setting: str, cost: Cost, way: Way) -> Change | None:
    """The change as of the instant in hand that was struck out, while nothing holds in its place."""
    of_it = [one for one in cost.history if one.key == setting and one.at == cost.made]
    of_it = [one for one in of_it if not way.side or one.side in ("", way.side)]
    return None if any(not one.struck for one in of_it) else next(iter(of_it), None)
