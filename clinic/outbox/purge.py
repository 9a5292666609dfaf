"""Clearing away what was told long ago. What still waits, however old, stays."""

from __future__ import annotations

from datetime import datetime, timedelta

from clinic.outbox.models import OutboxRow

KEPT = timedelta(days=30)  # long enough for whoever looks into what was told when; common practice, no source
AT_ONCE = 10_000


def purge(at: datetime) -> int:
    """Remove rows that were done more than thirty days ago, some thousands at a time; returns how many."""
    gone = 0
    while True:
        old = OutboxRow.objects.filter(done_at__lt=at - KEPT).order_by("done_at").values_list("pk", flat=True)[:AT_ONCE]
        removed, _ = OutboxRow.objects.filter(pk__in=list(old)).delete()
        gone += removed
        if removed < AT_ONCE:
            return gone
