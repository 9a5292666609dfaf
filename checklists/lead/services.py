"""Looking at a handover sheet is accounted for: it shows many people at once."""

from __future__ import annotations

from uuid import UUID

from django.db import transaction

from clinic import access, clock
from clinic.access import Action
from clinic.audit import trail
from clinic.staff.models import Staff


@transaction.atomic(durable=True)
def note_handover(*, actor: Staff, staff_id: UUID, people: int) -> None:
    """Leave a trail row: whose handover sheet was opened, and how many people stood on it."""
    at = clock.now()
    access.permit(actor, Action.SEE_PERSON, at)
    trail.record(actor, "handover.opened", "staff", staff_id, at=at, detail={"people": people})
