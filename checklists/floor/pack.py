"""What a tablet takes along of a person: the protocol, and every entry as the record holds it. Three statements at any
length."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from uuid import UUID

from checklists.floor.state import of_floor
from checklists.record import protocols
from checklists.record.models import EntryContent
from clinic.staff.models import Staff


@dataclass(frozen=True, slots=True)
class PackedProtocol:
    """The protocol document by which the episode is judged, as text; empty where the caller has it already."""

    digest: str
    document: str


@dataclass(frozen=True, slots=True)
class Pack:
    """An episode without the server.

    `entries`: the JSON text of each, in the order of reception, after the number that was asked for; `number`: the last
    of them; `names`: staff references → names; `role`: under which the caller records.
    """

    episode: UUID
    reference: str
    protocol: PackedProtocol
    number: int
    entries: list[str]
    names: dict[str, str]
    now: datetime
    zone: str
    role: str | None


def pack(actor: Staff, episode_id: UUID, *, since: int, known: str, at: datetime) -> Pack:
    """The entries after number `since`, and the protocol unless its digest is `known`. NotFound where the actor may not
    record for the person. An entry whose content was erased is not among them."""
    episode = of_floor(actor, episode_id, at=at)
    protocol = protocols.kept(episode.head.protocol_id)
    rows = EntryContent.objects.filter(entry__episode=episode, entry__number__gt=since).order_by("entry__number")
    found = list(rows.values_list("entry__number", "body", "entry__by__reference", "entry__by__name"))
    return Pack(
        episode=episode.pk,
        reference=episode.reference,
        protocol=PackedProtocol(protocol.digest, "" if protocol.digest == known else protocol.document),
        number=found[-1][0] if found else since,
        entries=[body for _, body, _, _ in found],
        names={reference: name for _, _, reference, name in found},
        now=at,
        zone=episode.site.time_zone,
        role=actor.stamped_role(at.date()),
    )
