"""Writing what one call changes, as one data-modifying statement: facts, contents, head, trail, and where needed
alerts, deadlines, outbox and the episode's projection. Parts that have nothing to write are left out; each combination
is prepared once.
"""

from __future__ import annotations

from contextlib import ExitStack
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any
from uuid import UUID

import orjson

from checklists.record.judging import Sound
from checklists.record.leaf import ENTRY
from checklists.record.lock import sent
from checklists.record.projection import Projection
from checklists.record.reception import Reception
from clinic.audit import trail
from clinic.ledger.mac import Stamp, stamp
from clinic.outbox.models import OutboxRow

Identity = tuple[str, str]  # rule and entry


@dataclass(frozen=True, slots=True)
class AlertRow:
    """An alert to raise, with the received entry with which it became known."""

    rule: str
    entry: str
    severity: str
    happened_at: datetime
    known_with: str | None
    by_rule: bool = True


@dataclass(frozen=True, slots=True)
class DeadlineRow:
    """Something that must be shown by an instant."""

    rule: str
    entry: str
    at: datetime
    due_at: datetime
    severity: str


@dataclass(slots=True)
class Changes:
    """Everything that one call writes. `numbers`: one a sound entry. `gone`: alerts that no longer follow → the entry
    with whose arrival they went."""

    episode_id: UUID
    sounds: list[Sound]
    numbers: list[int]
    snapshot: bytes
    board: bytes
    stale_at: datetime | None
    last_at: datetime | None
    trail: trail.Row
    raised: list[AlertRow] = field(default_factory=list)
    gone: dict[Identity, str] = field(default_factory=dict)
    due: list[DeadlineRow] = field(default_factory=list)
    met: list[Identity] = field(default_factory=list)
    outbox: list[OutboxRow] = field(default_factory=list)
    projection: Projection | None = None
    fall_waits: bool = False  # whether a fall is open after it


_FACT = """
new AS (
    INSERT INTO checklists_entry
        (number, id, episode_id, kind, at, by_id, received_at, sender_id, door, commitment, leaf, mac)
    VALUES (%(number)s, %(id)s, %(episode)s, %(kind)s, %(at)s, %(by)s, %(now)s, %(sender)s, %(door)s, %(commitment)s,
        %(leaf)s, %(mac)s)
), content AS (
    INSERT INTO checklists_entrycontent (entry_id, body, salt) VALUES (%(id)s, %(body)s, %(salt)s)
)"""
_FACTS = """
new AS (
    INSERT INTO checklists_entry
        (number, id, episode_id, kind, at, by_id, received_at, sender_id, door, commitment, leaf, mac)
    SELECT number, id, %(episode)s, kind, at, by_id, %(now)s, %(sender)s, %(door)s, commitment, leaf, mac
    FROM unnest(%(numbers)s::bigint[], %(ids)s::uuid[], %(kinds)s::text[], %(ats)s::timestamptz[], %(bys)s::uuid[],
        %(commitments)s::bytea[], %(leaves)s::bytea[], %(macs)s::bytea[])
        AS t(number, id, kind, at, by_id, commitment, leaf, mac)
), content AS (
    INSERT INTO checklists_entrycontent (entry_id, body, salt)
    SELECT * FROM unnest(%(ids)s::uuid[], %(bodies)s::text[], %(salts)s::bytea[])
)"""
_HEAD = """
head AS (
    UPDATE checklists_head SET snapshot = %(snapshot)s, board = %(board)s::jsonb, stale_at = %(stale)s,
        last_at = %(last)s, entries = entries + %(count)s, updated_at = %(now)s WHERE episode_id = %(episode)s
)"""
_TRAIL = """
trail AS (
    INSERT INTO clinic_trailrow
        (number, at, actor_id, verb, subject, subject_id, episode, origin, detail_text, leaf, mac)
    VALUES (%(t_number)s, %(now)s, %(sender)s, %(verb)s, %(subject)s, %(subject_id)s, %(episode)s, %(origin)s,
        %(detail)s, %(t_leaf)s, %(t_mac)s)
)"""
_RAISED = """
raised AS (
    INSERT INTO checklists_alert (id, episode_id, rule, entry, severity, by_rule, happened_at, known_at, open)
    SELECT gen_random_uuid(), %(episode)s, rule, entry, severity, by_rule, happened_at, %(now)s, true
    FROM unnest(%(r_rules)s::text[], %(r_entries)s::uuid[], %(r_severities)s::text[], %(r_by_rule)s::bool[],
        %(r_happened)s::timestamptz[]) AS t(rule, entry, severity, by_rule, happened_at)
    ON CONFLICT (episode_id, rule, entry) DO UPDATE SET open = true, known_at = excluded.known_at, withdrawn_at = NULL,
        withdrawn_with = NULL, acknowledged_at = NULL, acknowledged_by_id = NULL, escalated_at = NULL
        WHERE NOT checklists_alert.open
    RETURNING id, rule, entry, xmax = 0 AS fresh
), raised_steps AS (
    INSERT INTO checklists_alertstep (alert_id, kind, at, entry, text)
    SELECT id, CASE WHEN fresh THEN 'raised' ELSE 'raised_again' END, %(now)s, w.known_with, ''
    FROM raised JOIN unnest(%(r_rules)s::text[], %(r_entries)s::uuid[], %(r_with)s::uuid[])
        AS w(rule, entry, known_with) USING (rule, entry)
)"""
_GONE = """
gone AS (
    UPDATE checklists_alert a SET open = false, withdrawn_at = %(now)s, withdrawn_with = w.gone_with
    FROM unnest(%(g_rules)s::text[], %(g_entries)s::uuid[], %(g_with)s::uuid[]) AS w(rule, entry, gone_with)
    WHERE a.episode_id = %(episode)s AND a.rule = w.rule AND a.entry = w.entry AND a.open
    RETURNING a.id, a.withdrawn_with
), gone_steps AS (
    INSERT INTO checklists_alertstep (alert_id, kind, at, entry, text)
    SELECT id, 'withdrawn', %(now)s, withdrawn_with, '' FROM gone
)"""
_DUE = """
due AS (
    INSERT INTO checklists_deadline (episode_id, rule, entry, at, due_at, severity)
    SELECT %(episode)s, * FROM unnest(%(d_rules)s::text[], %(d_entries)s::uuid[], %(d_ats)s::timestamptz[],
        %(d_dues)s::timestamptz[], %(d_severities)s::text[])
    ON CONFLICT (episode_id, rule, entry) DO UPDATE SET at = excluded.at, due_at = excluded.due_at, met_at = NULL,
        reported_at = CASE WHEN checklists_deadline.met_at IS NULL THEN checklists_deadline.reported_at END
)"""
_MET = """
met AS (
    UPDATE checklists_deadline d SET met_at = %(now)s
    FROM unnest(%(m_rules)s::text[], %(m_entries)s::uuid[]) AS w(rule, entry)
    WHERE d.episode_id = %(episode)s AND d.rule = w.rule AND d.entry = w.entry AND d.met_at IS NULL
)"""
_OUTBOX = """
outbox AS (
    INSERT INTO clinic_outboxrow (topic, payload, dedupe_key, created_at, due_at, attempts, last_error)
    SELECT topic, payload::jsonb, dedupe_key, %(now)s, %(now)s, 0, ''
    FROM unnest(%(o_topics)s::text[], %(o_payloads)s::text[], %(o_keys)s::text[]) AS t(topic, payload, dedupe_key)
    ON CONFLICT DO NOTHING
)"""
_PROJECTION = """
projection AS (
    UPDATE caseload_episode
    SET side = %(side)s, features = %(features)s, opened_at = %(opened)s, closed_at = %(closed)s,
        knee_said = CASE WHEN knee_said IS NOT NULL THEN %(said)s::boolean END
    WHERE id = %(episode)s
)"""


def write(changes: Changes, reception: Reception, closing: ExitStack | None = None) -> None:
    """Write it all, in the caller's transaction. Another's entry under one of the ids meanwhile: IntegrityError."""
    parts = [_HEAD, _TRAIL]
    values = _always(changes, reception)
    for wanted, part, more in (
        (len(changes.sounds) == 1, _FACT, _fact),
        (len(changes.sounds) > 1, _FACTS, _facts),
        (changes.raised, _RAISED, _raised),
        (changes.gone, _GONE, _gone),
        (changes.due, _DUE, _due),
        (changes.met, _MET, _met),
        (changes.outbox, _OUTBOX, _outbox),
        (changes.projection, _PROJECTION, _projection),
    ):
        if wanted:
            parts.append(part)
            values |= more(changes, reception)
    sent("WITH" + ",".join(parts) + "\nSELECT 1", values, closing)


def _always(changes: Changes, reception: Reception) -> dict[str, Any]:
    row = trail.stamped(changes.trail)
    return {
        "episode": changes.episode_id,
        "now": reception.at,
        "sender": reception.actor.pk,
        "door": str(reception.door),
        "snapshot": changes.snapshot,
        "board": changes.board.decode(),
        "stale": changes.stale_at,
        "last": changes.last_at,
        "count": len(changes.sounds),
        "verb": row["verb"],
        "subject": row["subject"],
        "subject_id": row["subject_id"],
        "origin": row["origin"],
        "detail": row["detail_text"],
        "t_number": row["number"],
        "t_leaf": row["leaf"],
        "t_mac": row["mac"],
    }


def _stamp(changes: Changes, reception: Reception, sound: Sound, number: int) -> Stamp:
    return stamp(
        ENTRY,
        {
            "number": number,
            "id": sound.entry.id,
            "episode_id": changes.episode_id,
            "kind": sound.entry.kind,
            "at": sound.at,
            "by_id": sound.author.staff.pk,
            "received_at": reception.at,
            "sender_id": reception.actor.pk,
            "door": str(reception.door),
            "commitment": sound.commitment,
        },
    )


def _fact(changes: Changes, reception: Reception) -> dict[str, Any]:
    """The commonest case, without arrays: those cost more to send than the row to write."""
    (sound,), (number,) = changes.sounds, changes.numbers
    leaf, mac = _stamp(changes, reception, sound, number)
    return {
        "number": number,
        "id": sound.entry.id,
        "kind": sound.entry.kind,
        "at": sound.at,
        "by": sound.author.staff.pk,
        "commitment": sound.commitment,
        "body": sound.body.decode(),
        "salt": sound.salt,
        "leaf": leaf,
        "mac": mac,
    }


def _facts(changes: Changes, reception: Reception) -> dict[str, Any]:
    sounds, numbers = changes.sounds, changes.numbers
    stamps = [_stamp(changes, reception, sound, number) for sound, number in zip(sounds, numbers, strict=True)]
    return {
        "numbers": numbers,
        "ids": [sound.entry.id for sound in sounds],
        "kinds": [sound.entry.kind for sound in sounds],
        "ats": [sound.at for sound in sounds],
        "bys": [sound.author.staff.pk for sound in sounds],
        "commitments": [sound.commitment for sound in sounds],
        "bodies": [sound.body.decode() for sound in sounds],
        "salts": [sound.salt for sound in sounds],
        "leaves": [one.leaf for one in stamps],
        "macs": [one.mac for one in stamps],
    }


def _raised(changes: Changes, reception: Reception) -> dict[str, Any]:
    rows = changes.raised
    return {
        "r_rules": [row.rule for row in rows],
        "r_entries": [row.entry for row in rows],
        "r_severities": [row.severity for row in rows],
        "r_by_rule": [row.by_rule for row in rows],
        "r_happened": [row.happened_at for row in rows],
        "r_with": [row.known_with for row in rows],
    }


def _gone(changes: Changes, reception: Reception) -> dict[str, Any]:
    return {
        "g_rules": [rule for rule, _ in changes.gone],
        "g_entries": [entry for _, entry in changes.gone],
        "g_with": list(changes.gone.values()),
    }


def _due(changes: Changes, reception: Reception) -> dict[str, Any]:
    rows = changes.due
    return {
        "d_rules": [row.rule for row in rows],
        "d_entries": [row.entry for row in rows],
        "d_ats": [row.at for row in rows],
        "d_dues": [row.due_at for row in rows],
        "d_severities": [row.severity for row in rows],
    }


def _met(changes: Changes, reception: Reception) -> dict[str, Any]:
    return {"m_rules": [rule for rule, _ in changes.met], "m_entries": [entry for _, entry in changes.met]}


def _outbox(changes: Changes, reception: Reception) -> dict[str, Any]:
    rows = changes.outbox
    return {
        "o_topics": [row.topic for row in rows],
        "o_payloads": [orjson.dumps(row.payload).decode() for row in rows],
        "o_keys": [row.dedupe_key for row in rows],
    }


def _projection(changes: Changes, reception: Reception) -> dict[str, Any]:
    side, features, said, opened_at, closed_at = changes.projection or ("", [], False, None, None)
    return {"side": side, "features": features, "said": said, "opened": opened_at, "closed": closed_at}
