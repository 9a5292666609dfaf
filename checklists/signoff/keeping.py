"""Keeping a signature: the statement made from what was just written, and its row. Inner steps, under the episode's
lock."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any
from uuid import UUID

import orjson
import rfc8785

from checklists.record.models import Entry, SignedEvidence
from checklists.signoff.countersign import Second
from checklists.signoff.meaning import COUNTERSIGNING, Meaning
from checklists.signoff.models import Signature
from checklists.signoff.signature import FORMAT, digest_of, record_digest
from clinic.staff.models import Staff
from clinic.staff.reauthenticate import Shown


@dataclass(frozen=True, slots=True)
class ToKeep:
    """What is signed, by whom, meaning what, and how they have shown who they are."""

    entry: UUID
    episode: str
    skill: str
    protocol: str
    statement: str
    evidence: str
    signer: Staff
    meaning: Meaning
    shown: Shown
    second: Second | None = None


def keep(given: ToKeep, *, at: datetime) -> Signature:
    """Write what was signed and that it was signed; the names as they are now."""
    digest, second = digest_of(given.evidence), given.second
    SignedEvidence.objects.create(
        entry_id=given.entry,
        skill=given.skill,
        statement=given.statement,
        evidence=given.evidence,
        digest=digest,
        protocol=given.protocol,
        signer_name=given.signer.name,
        countersigner=second.staff if second else None,
        countersign_reason=second.reason[:400] if second else "",
    )
    text = rfc8785.dumps(_statement(given, digest)).decode()
    return Signature.objects.create(
        entry_id=given.entry,
        text=text,
        digest=digest_of(text),
        signer_name=given.signer.name,
        meaning=given.meaning,
        signed_at=at,
        shown=given.shown,
        countersigner_name=second.staff.name if second else "",
        countersigner_shown=second.shown if second else "",
    )


def _statement(given: ToKeep, digest: str) -> dict[str, Any]:
    """The signature statement, from the entry as it was written."""
    entry = Entry.objects.select_related("content").get(id=given.entry)
    body: Mapping[str, Any] = orjson.loads(entry.content.body)
    before = commitments_before(entry)
    said = {
        "format": FORMAT,
        "entry": str(given.entry),
        "episode": given.episode,
        "skill": given.skill,
        "protocol": given.protocol,
        "statement": given.statement,
        "evidence": digest,
        "record": {"entries": len(before), "digest": record_digest(before)},
        "signer": {"reference": body["by"], "name": given.signer.name, "role": body.get("role", "")},
        "meaning": str(given.meaning),
        "at": body["at"],
        "shown": str(given.shown),
    }
    return said | ({"countersigner": _second(given.second)} if given.second else {})


def _second(second: Second) -> dict[str, str]:
    staff = second.staff
    return {
        "reference": staff.reference,
        "name": staff.name,
        "role": "clinic_lead",
        "meaning": str(COUNTERSIGNING),
        "reason": second.reason,
        "shown": str(second.shown),
    }


def commitments_before(entry: Entry) -> tuple[bytes, ...]:
    """The commitments of what stood in the episode before this entry, in the order of reception."""
    rows = Entry.objects.filter(episode_id=entry.episode_id, number__lt=entry.number).order_by("number")
    return tuple(bytes(one) for one in rows.values_list("commitment", flat=True))
