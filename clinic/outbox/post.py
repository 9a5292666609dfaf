"""The one writer of the outbox."""

from collections.abc import Mapping
from datetime import datetime

from clinic.outbox.models import OutboxRow
from clinic.outbox.wake import wake_after_commit


def row(topic: str, payload: Mapping[str, object], *, at: datetime, dedupe_key: str) -> OutboxRow:
    """An unsaved row, for a writer that inserts several kinds of rows in one statement."""
    return OutboxRow(topic=topic, payload=dict(payload), dedupe_key=dedupe_key, created_at=at, due_at=at)


def publish(topic: str, payload: Mapping[str, object], *, at: datetime, dedupe_key: str) -> None:
    """Put news into the outbox, in the caller's transaction. The same key again is the same news: nothing happens."""
    OutboxRow.objects.bulk_create([row(topic, payload, at=at, dedupe_key=dedupe_key)], ignore_conflicts=True)
    wake_after_commit()
