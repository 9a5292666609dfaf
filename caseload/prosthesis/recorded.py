"""What the record of facts says of the parts in the register: exchanges whose part the register has not got, and the
change that names a part which it has.

The record registers who knows of them.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from uuid import UUID

from caseload.above import Above
from caseload.prosthesis.selectors import Device, part_words


@dataclass(frozen=True, slots=True)
class Untold:
    """The latest exchange of the knee of a prosthesis, as the record has it."""

    at: datetime
    words: str


@dataclass(frozen=True, slots=True)
class Named:
    """The change of the record that names a part. `entry` is its fact; `name`: what the part is called there and its
    serial number, as far as the record tells them apart; `apart`: the register names another knee."""

    entry: str
    at: datetime
    words: str
    name: tuple[str, str]
    apart: bool

    def holds(self, description: str, serial: str) -> bool:
        """Whether a part of this name is the one that the record names. A number that the record has not got is the
        register's alone."""
        return _plain(self.words) in (_plain(part_words(description, serial)), _plain(description))

    def is_all(self, description: str, serial: str) -> bool:
        """The same, and the record has its serial number as well: nothing is left that the register alone says."""
        return bool(serial) and _plain(self.words) == _plain(part_words(description, serial))


def _plain(words: str) -> str:
    return " ".join(words.split()).casefold()


@dataclass(frozen=True, slots=True)
class Recorded:
    """Of an episode: by prosthesis what the register lacks, and by part the change that names it."""

    lacks: Mapping[UUID, Untold] = field(default_factory=dict)
    named: Mapping[UUID, Named] = field(default_factory=dict)

    def apart(self, device: Device) -> Named | None:
        """What the record says of the knee that is worn, where the register names another."""
        named = self.named.get(device.knee.component_id) if device.knee else None
        return named if named and named.apart else None


# Of an episode, its prostheses and its site's time zone.
exchanges: Above[[UUID, Sequence[Device], str], Recorded] = Above("the exchanges")
register = exchanges.register


def recorded(episode_id: UUID, worn: Sequence[Device], zone: str) -> Recorded:
    """What the record says of these prostheses; nothing where there is none."""
    return exchanges(episode_id, worn, zone) if worn else Recorded()
