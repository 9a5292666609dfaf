"""Giving a proof bundle out: itself a row of the trail."""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from dataclasses import dataclass
from uuid import UUID

from django.db import transaction

from caseload.episode.models import Episode
from checklists.proof.bundle import zipped
from checklists.proof.finding import found
from checklists.proof.gathering import gathered
from checklists.proof.offline.check import Line, checked, verdict
from clinic import access, clock
from clinic.access import Action
from clinic.audit import trail
from clinic.staff.models import Staff


@dataclass(frozen=True, slots=True)
class Exported:
    """A bundle as a file, and what whoever checks it will read: `lines`, `holds` and the last `sentence`."""

    name: str
    content: bytes
    lines: Sequence[Line]
    holds: bool
    sentence: str


@transaction.atomic(durable=True)
def note_choice_opened(*, actor: Staff, episode_id: UUID) -> None:
    """Leave a trail row: the sign-offs of this episode were shown, to choose one. Refused where the actor may not give
    them out."""
    at = clock.now()
    row = access.get(actor, Action.EXPORT_RECORD, Episode.objects.all(), at=at, pk=episode_id)
    trail.record(actor, "person.opened", "episode", row.reference, at=at, episode=row.pk, detail={"page": "proof"})


@transaction.atomic(durable=True)
def export_proof(*, actor: Staff | None, reference: str, notes: Sequence[str] = ()) -> Exported:
    """The proof bundle about a sign-off (the id of its entry) or an episode (its reference or id).

    `notes`: checkpoints kept elsewhere, with which it shall be comparable. `actor` None: the command on the server.
    Refused: a reference that is neither; a checkpoint that is not this ledger's, or newer than it.
    """
    at = clock.now()
    if actor is not None:
        access.permit(actor, Action.EXPORT_RECORD, at)
    what = found(actor, reference, at=at)
    bundle = gathered(what, at=at, notes=notes)
    files = bundle.files()
    lines = checked(files)
    holds, sentence = verdict(lines)
    about, content = bundle.about, zipped(files, at)
    detail = {"about": about.kind, "reference": about.reference, "sha256": hashlib.sha256(content).hexdigest()}
    trail.record(
        actor, "proof.exported", "episode", about.episode_reference, at=at, episode=what.episode.pk, detail=detail
    )
    name = about.reference.lower() if about.kind == "episode" else f"sign-off-{about.reference[:8]}"
    return Exported(f"proof-{name}-{at:%Y-%m-%d-%H%M}.zip", content, lines, holds, sentence)
