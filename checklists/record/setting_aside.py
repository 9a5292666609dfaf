"""What is not taken into the record and yet not lost: refused entries with the error, and late ones that wait for the
lead."""

from __future__ import annotations

from collections.abc import Sequence
from uuid import NAMESPACE_OID, UUID, uuid5

import orjson

from checklists.alerts.models import Severity
from checklists.alerts.rules import REFUSED_DANGER
from checklists.alerts.steps import raise_by_server
from checklists.domain import same_content
from checklists.record.judging import Judged, is_grave, raw_text
from checklists.record.lock import Locked
from checklists.record.models import HeldEntry, RefusedEntry
from checklists.record.reception import Reception
from clinic.audit import trail
from clinic.outbox.post import publish


def keep(reception: Reception, locked: Locked, entries: Sequence[object], judged: Sequence[Judged]) -> None:
    """Keep what was refused and what is held. A refused fall or unsafe attempt is put before the lead at once."""
    refused = [(raw, one) for raw, one in zip(entries, judged, strict=True) if one.verdict.outcome == "refused"]
    held = [(raw, one) for raw, one in zip(entries, judged, strict=True) if one.held is not None]
    if held:
        refused += _keep_held(reception, locked, held)
    if refused:
        _keep_refused(reception, locked, refused)


def _keep_refused(reception: Reception, locked: Locked, refused: Sequence[tuple[object, Judged]]) -> None:
    rows = [
        RefusedEntry(
            id=refused_id(reception, locked, raw_text(raw)),
            episode_id=locked.episode_id,
            sender=reception.actor,
            received_at=reception.at,
            door=reception.door,
            raw=raw_text(raw),
            error=one.verdict.error or "",
            urgent=is_grave(raw),
        )
        for raw, one in refused
    ]
    RefusedEntry.objects.bulk_create(rows, ignore_conflicts=True)
    _account(reception, locked, "entries.refused", [str(row.id) for row in rows])
    urgent = [row.id for row in rows if row.urgent]
    if urgent:
        raise_by_server(
            locked.episode_id,
            REFUSED_DANGER,
            urgent,
            severity=Severity.CRITICAL,
            happened_at=reception.at,
            at=reception.at,
        )


def refused_id(reception: Reception, locked: Locked, raw: str) -> UUID:
    """The same thing sent again by the same person is the same refusal: a tablet that keeps trying makes no second
    row."""
    return uuid5(NAMESPACE_OID, f"{locked.episode_id} {reception.actor.pk} {raw}")


def _keep_held(
    reception: Reception, locked: Locked, held: Sequence[tuple[object, Judged]]
) -> list[tuple[object, Judged]]:
    """Keep what is held, once. Returns those that cannot wait: something else waits, or waited, under their id."""
    waiting = {row.entry: row for row in HeldEntry.objects.filter(entry__in=[_entry(one) for _, one in held])}
    new, clashes = [], []
    for raw, one in held:
        row = waiting.get(_entry(one))
        if row is None:
            row = waiting[_entry(one)] = _waiting(reception, locked, one)
            new.append(row)
        elif row.episode_id != locked.episode_id or not same_content(orjson.loads(row.raw), one.held or {}):
            one.verdict.outcome, one.verdict.error = "refused", "id: waits here already with other content"
            clashes.append((raw, one))
        elif row.released is False:
            one.verdict.outcome, one.verdict.error = (
                "refused",
                "at: a clinic lead looked at this late fact and did not let it in",
            )
    if new:
        HeldEntry.objects.bulk_create(new)
        _account(reception, locked, "entries.held", [str(row.entry) for row in new])
        news = {"episode": str(locked.episode_id), "held": [str(row.id) for row in new]}
        publish("entry.held", news, at=reception.at, dedupe_key=f"entry.held:{new[0].id}")
    return clashes


def _entry(one: Judged) -> UUID:
    return UUID(one.verdict.id or "")


def _waiting(reception: Reception, locked: Locked, one: Judged) -> HeldEntry:
    return HeldEntry(
        episode_id=locked.episode_id,
        entry=_entry(one),
        sender=reception.actor,
        received_at=reception.at,
        door=reception.door,
        raw=raw_text(one.held, limit=1_000_000),
        reason=one.verdict.error or "",
    )


def _account(reception: Reception, locked: Locked, verb: str, ids: list[str]) -> None:
    trail.record(
        reception.actor,
        verb,
        "episode",
        locked.reference,
        at=reception.at,
        episode=locked.episode_id,
        detail={"entries": ids},
    )
