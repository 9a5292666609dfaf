"""What is not taken into the record and yet not lost: refused entries with the error, and late ones that wait for the
lead."""

from __future__ import annotations

from collections.abc import Sequence
from uuid import NAMESPACE_OID, UUID, uuid5

from checklists.alerts.models import Severity
from checklists.alerts.rules import REFUSED_DANGER
from checklists.alerts.steps import raise_by_server
from checklists.record.judging import Judged, is_grave, raw_text
from checklists.record.lock import Locked
from checklists.record.models import HeldEntry, RefusedEntry
from checklists.record.reception import Reception
from clinic.audit import trail
from clinic.outbox.post import publish


def keep(reception: Reception, locked: Locked, entries: Sequence[object], judged: Sequence[Judged]) -> None:
    """Keep what was refused and what is held. A refused fall or unsafe attempt is put before the lead at once."""
    refused = [(raw, one) for raw, one in zip(entries, judged, strict=True) if one.verdict.outcome == "refused"]
    held = [one for one in judged if one.held is not None]
    if refused:
        _keep_refused(reception, locked, refused)
    if held:
        _keep_held(reception, locked, held)


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


def _keep_held(reception: Reception, locked: Locked, held: Sequence[Judged]) -> None:
    ids = [UUID(one.verdict.id) for one in held if one.verdict.id]
    settled = dict(HeldEntry.objects.filter(entry__in=ids).values_list("entry", "released"))
    new = []
    for one in held:
        entry = UUID(one.verdict.id or "")
        if settled.get(entry) is False:
            one.verdict.outcome, one.verdict.error = (
                "refused",
                "at: a clinic lead looked at this late fact and did not let it in",
            )
        elif entry not in settled:
            settled[entry] = None
            new.append(
                HeldEntry(
                    episode_id=locked.episode_id,
                    entry=entry,
                    sender=reception.actor,
                    received_at=reception.at,
                    door=reception.door,
                    raw=raw_text(one.held, limit=1_000_000),
                    reason=one.verdict.error or "",
                )
            )
    if new:
        HeldEntry.objects.bulk_create(new)
        _account(reception, locked, "entries.held", [str(row.entry) for row in new])
        news = {"episode": str(locked.episode_id), "held": [str(row.id) for row in new]}
        publish("entry.held", news, at=reception.at, dedupe_key=f"entry.held:{new[0].id}")


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
