"""Inner steps about alerts that only the server can raise: no replay knows of them (SEMANTICS.md §1, §5)."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime
from uuid import UUID

from django.db.models import Q

from checklists.alerts.models import Alert, AlertStep, StepKind
from clinic.outbox.post import publish


def raise_by_server(
    episode_id: UUID, rule: str, entries: Iterable[UUID], *, severity: str, happened_at: datetime, at: datetime
) -> None:
    """Raise an alert on each of these acts, once, and announce it. Nothing happens where it stands already."""
    wanted = list(entries)
    standing = set(
        Alert.objects.filter(episode_id=episode_id, rule=rule, entry__in=wanted).values_list("entry", flat=True)
    )
    new = [
        Alert(
            episode_id=episode_id,
            rule=rule,
            entry=entry,
            severity=severity,
            by_rule=False,
            happened_at=happened_at,
            known_at=at,
        )
        for entry in dict.fromkeys(wanted)
        if entry not in standing
    ]
    if not new:
        return
    Alert.objects.bulk_create(new)
    AlertStep.objects.bulk_create(AlertStep(alert=row, kind=StepKind.RAISED, at=at, entry=row.entry) for row in new)
    news = {"episode": str(episode_id), "alerts": [[row.rule, str(row.entry)] for row in new]}
    publish("alert.raised", news, at=at, dedupe_key=f"alert.raised:{new[0].id}")


def named(episode_id: UUID, identities: Iterable[tuple[str, str]]) -> Q:
    """The filter for alerts by identity."""
    wanted = Q(pk__isnull=True)
    for rule, entry in identities:
        wanted |= Q(episode_id=episode_id, rule=rule, entry=entry)
    return wanted
