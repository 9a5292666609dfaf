"""Holding what is stored against a replay of the exported record: nothing derived may differ from what the facts
say."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime
from uuid import UUID

from checklists.alerts.models import Alert
from checklists.domain.replay import replay_lines
from checklists.record import protocols
from checklists.record.export import is_erased, lines
from checklists.record.models import Entry, EntryContent, Head


def differences(episode_id: UUID, reference: str, at: datetime) -> list[str]:
    """Where the stored alerts and statuses of an episode differ from its replay at an instant; nothing where they do
    not."""
    head = Head.objects.filter(episode=episode_id).first()
    if head is None:
        return _of_erased(episode_id, reference)
    newest = Entry.objects.filter(episode=episode_id).order_by("-at").values_list("at", flat=True).first()
    until = max(at, newest) if newest else at
    protocol = protocols.loaded(head.protocol_id)
    reports = list(replay_lines(protocol, lines(episode_id), until.isoformat(), report_line=lambda number, why: None))
    if not reports:
        return [] if head.entries == 0 else [f"{reference}: {head.entries} entries are counted, and none can be read"]
    return [*_of_alerts(episode_id, reports[0]["alerts"]), *_of_skills(head, reports[0]["skills"])]


def _of_erased(episode_id: UUID, reference: str) -> list[str]:
    """Without a head there is nothing to compare: right where the record was erased, and nowhere else."""
    if is_erased(episode_id):
        left = EntryContent.objects.filter(entry__episode=episode_id).count()
        return [f"{reference}: was erased, and {left} entries still have their content"] if left else []
    return [f"{reference}: has no head, and nobody erased it"]


def _of_alerts(episode_id: UUID, replayed: list[dict[str, str]]) -> Iterator[str]:
    rows = Alert.objects.filter(episode=episode_id, open=True, by_rule=True)
    stored = {(rule, str(entry)): severity for rule, entry, severity in rows.values_list("rule", "entry", "severity")}
    follows = {(one["rule"], one["entry"]): one["severity"] for one in replayed}
    for rule, entry in sorted(follows.keys() - stored.keys()):
        yield f"{rule} on {entry} follows from the record and is not raised"
    for rule, entry in sorted(stored.keys() - follows.keys()):
        yield f"{rule} on {entry} is raised and does not follow from the record"
    for rule, entry in sorted(follows.keys() & stored.keys()):
        if follows[rule, entry] != stored[rule, entry]:
            yield f"{rule} on {entry} is {stored[rule, entry]} here and {follows[rule, entry]} in the replay"


def _of_skills(head: Head, replayed: dict[str, str]) -> Iterator[str]:
    stored = {key: one["status"] for key, one in head.board.get("skills", {}).items()}
    for key, status in replayed.items():
        if stored.get(key) != status:
            yield f"{key} is {stored.get(key)} here and {status} in the replay"
