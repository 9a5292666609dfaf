"""What recording a change at the Bench does to the register, if anything."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum

from caseload.prosthesis.models import PartKind
from caseload.prosthesis.selectors import IN_THE_RECORD, Device
from checklists.person.exchanged import Unrecorded, Unregistered, unregistered
from checklists.person.settings import Change


class Stage(StrEnum):
    """What the form writes."""

    CHANGE = "change"  # a fact of the record
    EXCHANGE = "exchange"  # a fact of the record, and the part in the register
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
    """What the form writes, to which prosthesis (where that is certain), and the exchange that the register lacks."""

    stage: Stage
    device: Device | None = None
    lacks: Unregistered | None = None


def in_hand(
    setting: str, worn: Sequence[Device], standing: Sequence[Change], missing: Sequence[Unrecorded], zone: str, way: Way
) -> InHand:
    """What a change of `setting` does. `standing`: the changes that hold, newest first; `missing`: the parts that the
    register has and the record has not."""
    mine = [one for one in worn if not way.side or one.side == way.side]
    if setting not in IN_THE_RECORD or not mine:
        return InHand(Stage.CHANGE)
    device = mine[0] if len(mine) == 1 else None
    if device and not way.another and (setting == PartKind.KNEE or way.new):
        lacks = unregistered(device, standing, zone, setting)
        if lacks:
            return InHand(Stage.REGISTER, device, lacks)
    if any(one.setting == setting and one.side in ("", way.side) for one in missing):
        return InHand(Stage.CHANGE, device)
    if device and setting == PartKind.KNEE and not device.had(PartKind.KNEE):
        return InHand(Stage.FIRST, device)
    return InHand(Stage.EXCHANGE, device)
