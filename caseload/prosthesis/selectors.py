"""What a person wears, and wore."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from uuid import UUID

from django.db.models import Prefetch
from django.utils.translation import gettext as _

from caseload.episode.models import Side
from caseload.prosthesis.models import Component, PartKind, Prosthesis
from clinic import access, clock
from clinic.access import Action
from clinic.errors import NotFound
from clinic.staff.models import Staff

IN_THE_RECORD = (PartKind.KNEE, PartKind.SOCKET, PartKind.FOOT)  # their exchange is a fact of the record as well


def part_words(description: str, serial: str) -> str:
    """'Demo knee 2, SN-4471': what a part is, and its serial number where that is known."""
    return ", ".join(filter(None, (description.strip(), serial.strip())))


@dataclass(frozen=True, slots=True)
class Part:
    """A component with its days; `last_day` is the last on which it was worn."""

    component_id: UUID
    key: str
    kind: str
    description: str
    serial: str
    since: date
    last_day: date | None
    worn: bool

    @property
    def words(self) -> str:
        """'Demo knee 2, SN-4471': what it is, and its serial number where that is known."""
        return part_words(self.description, self.serial)

    @property
    def in_the_record(self) -> bool:
        """Whether its exchange is a fact of the record as well."""
        return self.key in IN_THE_RECORD


@dataclass(frozen=True, slots=True)
class Device:
    """A prosthesis with its parts: those worn now first, then the others, newest first."""

    prosthesis_id: UUID
    version: int
    episode_id: UUID
    side: str
    label: str
    resistance_low: int
    resistance_high: int
    parts: tuple[Part, ...]

    @property
    def knee(self) -> Part | None:
        """The knee that is worn, where the register knows it."""
        return self.worn(PartKind.KNEE)

    def worn(self, kind: str) -> Part | None:
        """The part of a kind that is worn now, or from a day to come."""
        return next((part for part in self.parts if part.key == kind and part.worn), None)

    def had(self, kind: str) -> bool:
        """Whether a part of a kind is or was worn. What comes after one that was taken off is an exchange as well."""
        return any(part.key == kind for part in self.parts)

    def before(self, part: Part) -> Part | None:
        """The part of the same kind that was worn before this one."""
        return next((one for one in self.parts if one.key == part.key and one.since < part.since), None)

    @property
    def plain(self) -> list[str]:
        """The kinds of part that are fitted to it without anything for the record: no knee, and none in place of a part
        whose exchange is a fact."""
        return [kind for kind in PartKind.values if kind != PartKind.KNEE and not self._is_exchange(kind)]

    def _is_exchange(self, kind: str) -> bool:
        return kind in IN_THE_RECORD and self.worn(kind) is not None

    @property
    def replaceable(self) -> list[Part]:
        """What is worn and would end with another of its kind."""
        return [part for part in self.parts if part.worn and part.key != PartKind.OTHER]

    def part(self, component_id: UUID) -> Part | None:
        """One of its parts."""
        return next((part for part in self.parts if part.component_id == component_id), None)


def devices(actor: Staff, episode_id: UUID, *, at: datetime) -> list[Device]:
    """The prostheses of an episode, left before right."""
    parts = Prefetch("components", Component.objects.order_by("-period"))
    rows = Prosthesis.objects.filter(episode_id=episode_id).select_related("episode__site").prefetch_related(parts)
    return [_device(row, at) for row in access.scoped(actor, Action.SEE_PERSON, rows, at=at).order_by("side")]


def free_sides(side: str, registered: Sequence[Device]) -> list[str]:
    """The sides whose prosthesis is not in the register yet; `side`: where the person wears one, if that is known."""
    taken = {device.side for device in registered}
    return [one for one in (Side.LEFT, Side.RIGHT) if one not in taken and side in ("", Side.BOTH, one)]


def device_of(actor: Staff, episode_id: UUID, prosthesis_id: UUID, *, at: datetime) -> Device:
    """One prosthesis of an episode. NotFound where it is not the actor's to see."""
    found = [row for row in devices(actor, episode_id, at=at) if row.prosthesis_id == prosthesis_id]
    if not found:
        raise NotFound(_("There is no such prosthesis that you may see. Check the link, or ask a clinic lead."))
    return found[0]


def _device(row: Prosthesis, at: datetime) -> Device:
    today = clock.local_day(at, row.episode.site.time_zone)
    parts = [_part(part, today) for part in row.components.all() if not part.period.isempty]
    return Device(
        prosthesis_id=row.pk,
        version=row.version,
        episode_id=row.episode_id,
        side=row.side,
        label=row.label,
        resistance_low=row.resistance_low,
        resistance_high=row.resistance_high,
        parts=tuple(sorted(parts, key=lambda part: not part.worn)),
    )


def _part(part: Component, today: date) -> Part:
    upper = part.period.upper
    return Part(
        component_id=part.pk,
        key=part.kind,
        kind=part.get_kind_display(),
        description=part.description,
        serial=part.serial,
        since=part.period.lower,
        last_day=upper - timedelta(days=1) if upper else None,
        worn=upper is None or upper > today,
    )
