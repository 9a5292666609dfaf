"""Signatures as they are printed, and as they are checked."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any
from uuid import UUID

import orjson
from django.utils.translation import gettext as _

from checklists.record.models import Entry, SignedEvidence
from checklists.signoff.keeping import commitments_before
from checklists.signoff.meaning import COUNTERSIGNING
from checklists.signoff.models import Signature
from checklists.signoff.signature import Signed, check_signature
from checklists.words.tables import worded
from clinic.audit.models import TrailRow

VERBS = ("skill.signed_off", "skill.sign_off_withdrawn")


@dataclass(frozen=True, slots=True)
class Printed:
    """A signature as every page, print and answer shows it (21 CFR 11.50): printed name, date and time, meaning."""

    entry: UUID
    kind: str
    skill: str
    name: str
    at: datetime
    meaning: str
    shown: str
    countersigner: str
    countersigner_meaning: str
    reason: str

    @property
    def second(self) -> str:
        """Who countersigned, and what that meant; nothing where nobody did."""
        if not self.countersigner:
            return ""
        meaning = worded(self.countersigner_meaning, "meaning")
        return _("{name} (meaning: {meaning})").format(name=self.countersigner, meaning=meaning)


def printed(rows: Iterable[Signature]) -> list[Printed]:
    """Signatures for people, in the order given."""
    return [_printed(row) for row in rows]


def signatures_of(episode_id: UUID, skill: str = "") -> list[Printed]:
    """The signatures of an episode, newest first; of one skill, where one is given. Permitted by the caller."""
    rows = Signature.objects.filter(entry__episode_id=episode_id).select_related("entry__signed_evidence")
    if skill:
        rows = rows.filter(entry__signed_evidence__skill=skill)
    return printed(rows.order_by("-entry__number"))


def standing_of(episode_id: UUID) -> dict[str, Printed]:
    """The newest sign-off of each skill: who stands for what is signed off now, by the name that they signed with."""
    return {one.skill: one for one in reversed(signatures_of(episode_id)) if one.kind == "sign_off"}


@dataclass(frozen=True, slots=True)
class SignedOn:
    """What a sign-off was signed on: the attempts that stood on the screen then, and the digest kept of it all."""

    by: Printed
    attempts: frozenset[str]
    digest: str


def signed_on(by: Printed) -> SignedOn:
    """What stood on the screen at a sign-off. Permitted by the caller. One statement."""
    kept = SignedEvidence.objects.get(entry__id=by.entry)
    attempts = frozenset(one["id"] for one in orjson.loads(kept.evidence)["attempts"])
    return SignedOn(by, attempts, kept.digest)


def by_entry(entries: Iterable[UUID]) -> dict[UUID, Printed]:
    """The signatures of these entries."""
    rows = Signature.objects.filter(entry_id__in=list(entries)).select_related("entry__signed_evidence")
    return {one.entry: one for one in printed(rows)}


def _printed(row: Signature) -> Printed:
    said = row.entry.signed_evidence
    return Printed(
        entry=row.entry_id,
        kind=row.entry.kind,
        skill=said.skill,
        name=row.signer_name,
        at=row.signed_at,
        meaning=row.meaning,
        shown=row.shown,
        countersigner=row.countersigner_name,
        countersigner_meaning=str(COUNTERSIGNING) if row.countersigner_name else "",
        reason=said.countersign_reason,
    )


def signed(entry: Entry) -> Signed:
    """Everything that the signature of an entry hangs together with, for check_signature and the proof bundle.

    Reads the trail: only for whoever may, or for the programme itself.
    """
    rows = TrailRow.objects.filter(verb__in=VERBS, episode=entry.episode_id).select_related("actor")
    found = next((row for row in rows if row.detail.get("entry") == str(entry.id)), None)
    trail: Mapping[str, Any] | None = None
    if found is not None:
        trail = {**found.detail, "actor": found.actor.reference if found.actor else ""}
    return Signed(
        entry=str(entry.id),
        episode=entry.episode.reference,
        body=orjson.loads(entry.content.body),
        signature=entry.signature.text,
        evidence=entry.signed_evidence.evidence,
        trail=trail,
        commitments=commitments_before(entry),
    )


def faults_of(entry: Entry) -> list[str]:
    """What does not fit about the signature of an entry; nothing where it holds."""
    return check_signature(signed(entry))
