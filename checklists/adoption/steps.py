"""Inner steps of adopting. They open no transaction; the caller has permitted.

`require` stands in every way by which an episode is opened or a fact taken: until a clinic lead has adopted a version,
nothing real is judged by it.
"""

from __future__ import annotations

import hashlib
from dataclasses import asdict, dataclass
from datetime import datetime
from typing import Any

import rfc8785
from django.utils.translation import gettext as _

from checklists.adoption.models import Adoption
from checklists.adoption.thresholds import Threshold, thresholds
from checklists.record import protocols
from checklists.record.models import ProtocolVersion
from clinic.audit import trail
from clinic.errors import Conflict
from clinic.staff.models import Staff

_known: set[int] = set()  # versions that are adopted: it is never taken back


class NotAdopted(Conflict):
    """The thresholds by which this would be judged are nobody's yet."""

    code = "not_adopted"


@dataclass(frozen=True, slots=True)
class Shown:
    """What a lead reads and adopts."""

    rows: tuple[Threshold, ...]
    text: str

    @property
    def digest(self) -> str:
        """Given back with the adoption, so that what is adopted is what was shown."""
        return hashlib.sha256(self.text.encode()).hexdigest()


def shown(version: ProtocolVersion) -> Shown:
    """The thresholds of a version, and the text that is kept of them."""
    protocol = protocols.loaded(version.pk)
    rows = tuple(thresholds(protocol.document))
    said: dict[str, Any] = {"protocol": str(version), "document": version.digest}
    said["thresholds"] = [asdict(row) for row in rows]
    return Shown(rows, rfc8785.dumps(said).decode())


def statement(name: str, clinic: str, version: ProtocolVersion, many: int) -> str:
    """What the lead puts their name to."""
    return (
        f"I, {name}, clinic lead, have read the {many} thresholds of the protocol {version} "
        f"(document {version.digest[:16]}…). I adopt them as the defaults of {clinic}. Where no published "
        "source stands beside one, it is common practice; they defer to local policy and to licensed practice, and the "
        "judgement about a person remains with whoever treats them."
    )


def write(actor: Staff, version: ProtocolVersion, *, clinic: str, at: datetime) -> Adoption:
    """Write the adoption and its row in the trail."""
    page = shown(version)
    adoption = Adoption.objects.create(
        protocol=version,
        adopted_at=at,
        adopted_by=actor,
        adopter_name=actor.name,
        statement=statement(actor.name, clinic, version, len(page.rows)),
        shown=page.text,
        digest=page.digest,
    )
    detail = {"thresholds": len(page.rows), "shown": page.digest, "document": version.digest}
    trail.record(actor, "protocol.adopted", "protocol", str(version), at=at, detail=detail)
    return adoption


def require(protocol_id: int) -> None:
    """See that a version is adopted here; NotAdopted, with where to go, while it is not."""
    if protocol_id in _known:
        return
    if not Adoption.objects.filter(protocol_id=protocol_id).exists():
        raise NotAdopted(
            _(
                "The thresholds of the protocol are not adopted at this clinic yet, so nothing can be "
                "recorded by them. A clinic lead reads and adopts them on the page Protocol (/protocol/)."
            )
        )
    _known.add(protocol_id)
