"""What a tablet takes along of a person: the protocol, every entry as the record holds it, and the fold of them. Four
statements at any length.

A tablet begins with the fold, which is a few kB after many years, and folds what comes after it. The entries are there
for what no fold can take: a late fact, and a fact that is struck out.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from uuid import UUID

from django.db.models import OuterRef, Subquery

from checklists.floor.state import of_floor
from checklists.record import protocols
from checklists.record.models import Entry, EntryContent, Head
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
    of them; `names`: staff references → names; `role`: under which the caller records. `snapshot`: the fold of the
    record up to `number` as the core writes it, with the form of that core and the protocol's digest in it; None where
    nothing is new, and where the record grew while this was put together.
    """

    episode: UUID
    reference: str
    protocol: PackedProtocol
    number: int
    entries: list[str]
    snapshot: str | None
    names: dict[str, str]
    now: datetime
    zone: str
    role: str | None


def pack(actor: Staff, episode_id: UUID, *, since: int, known: str, at: datetime) -> Pack:
    """The entries after number `since`, and the protocol unless its digest is `known`. NotFound where the actor may not
    record for the person. An entry whose content was erased is not among them."""
    episode = of_floor(actor, episode_id, at=at)
    protocol = protocols.kept(episode.head.protocol_id)
    snapshot, last = _folded(episode.pk)
    rows = EntryContent.objects.filter(entry__episode=episode, entry__number__gt=since).order_by("entry__number")
    found = list(rows.values_list("entry__number", "body", "entry__by__reference", "entry__by__name"))
    number = found[-1][0] if found else since
    return Pack(
        episode=episode.pk,
        reference=episode.reference,
        protocol=PackedProtocol(protocol.digest, "" if protocol.digest == known else protocol.document),
        number=number,
        entries=[body for _, body, _, _ in found],
        snapshot=snapshot.decode() or None if found and number == last else None,
        names={reference: name for _, _, reference, name in found},
        now=at,
        zone=episode.site.time_zone,
        role=actor.stamped_role(at.date()),
    )


def _folded(episode_id: UUID) -> tuple[bytes, int]:
    """The stored fold and the number of the last entry that is in it: of one instant, whoever is writing meanwhile."""
    last = Entry.objects.filter(episode=OuterRef("pk")).order_by("-number").values("number")[:1]
    snapshot, number = Head.objects.annotate(last=Subquery(last)).values_list("snapshot", "last").get(pk=episode_id)
    return bytes(snapshot), number
