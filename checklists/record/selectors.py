"""What was set aside, where the sender and the lead see it."""

from __future__ import annotations

from datetime import datetime

from django.db.models import QuerySet

from checklists.record.models import HeldEntry, RefusedEntry
from clinic import access
from clinic.access import Action
from clinic.staff.models import Staff


def refused_entries(actor: Staff, *, at: datetime, settled: bool = False) -> QuerySet[RefusedEntry]:
    """What was refused, with the error, newest first: a lead sees it all, everybody else what they sent."""
    rows = access.scoped(actor, Action.SEE_REFUSED, RefusedEntry.objects.all(), at=at)
    return (
        rows.filter(settled_at__isnull=not settled).select_related("sender", "episode__person").order_by("-received_at")
    )


def held_entries(actor: Staff, *, at: datetime) -> QuerySet[HeldEntry]:
    """The late facts that wait for a lead, oldest first."""
    rows = access.scoped(actor, Action.RELEASE_LATE, HeldEntry.objects.filter(released__isnull=True), at=at)
    return rows.select_related("sender", "episode__person").order_by("received_at")
