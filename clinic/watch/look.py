"""One look at everything that is watched: one statement, and the room on the disks.

It asks nothing of worker, scheduler or broker: when they are dead, this is what says so.
"""

from __future__ import annotations

import shutil
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import datetime
from functools import cache
from pathlib import Path
from typing import Any

import orjson
from django.conf import settings
from django.db import connection

from clinic.access.standing import beyond
from clinic.ledger.sources import Source, sources

MEGABYTE = 1024 * 1024
MAKING = 5_911_700_201_844_900  # an advisory lock: held by whoever makes the demo's people, while they are made

_LOOK = """
SELECT
    (SELECT min(due_at) FROM clinic_outboxrow WHERE done_at IS NULL AND due_at <= %(now)s),
    (SELECT min(created_at) FROM clinic_outboxrow WHERE done_at IS NULL AND attempts > 1),
    (SELECT json_agg(json_build_array(name, at, detail)) FROM clinic_beat),
    (SELECT min(applied) FROM django_migrations),
    (SELECT json_agg(json_build_object('key', key, 'kind', kind, 'text', text, 'at', raised_at) ORDER BY raised_at)
        FROM clinic_alarm WHERE settled_at IS NULL),
    least({unsealed}),
    EXISTS (SELECT FROM pg_locks WHERE locktype = 'advisory' AND granted
        AND database = (SELECT oid FROM pg_database WHERE datname = current_database())
        AND (classid::bigint << 32 | objid::bigint) = %(making)s AND objsubid = 1)
"""
_UNSEALED = """(SELECT {at} FROM {table} WHERE number >
    coalesce((SELECT max(number) FROM clinic_ledgerleaf WHERE source = {code}), 0) ORDER BY number LIMIT 1)"""


@dataclass(frozen=True, slots=True)
class Beaten:
    """Last success of something, with what it said."""

    at: datetime
    detail: Mapping[str, Any]


@dataclass(frozen=True, slots=True)
class Alarm:
    """An alarm that is open."""

    key: str
    kind: str
    text: str
    at: datetime


@dataclass(frozen=True, slots=True)
class Seen:
    """What was seen. `installed`: when the tables were made, from which is counted what never happened yet. `making`:
    the demo's people are being made."""

    waiting_since: datetime | None
    failing_since: datetime | None
    beats: Mapping[str, Beaten]
    installed: datetime | None
    alarms: Sequence[Alarm]
    unsealed_since: datetime | None
    making: bool
    room: Mapping[str, float]


def look(at: datetime) -> Seen:
    """Look now."""
    with beyond("how old the oldest unsealed row is: its instant alone"), connection.cursor() as cursor:
        cursor.execute(_statement(), {"now": at, "making": MAKING})
        waiting, failing, beats, installed, alarms, unsealed, making = cursor.fetchone()
    return Seen(
        waiting_since=waiting,
        failing_since=failing,
        beats={name: Beaten(_instant(when), detail) for name, when, detail in _read(beats)},
        installed=installed,
        alarms=[Alarm(one["key"], one["kind"], one["text"], _instant(one["at"])) for one in _read(alarms)],
        unsealed_since=unsealed,
        making=making,
        room=free(settings.WATCH_FOLDERS),
    )


@contextmanager
def being_made() -> Iterator[None]:
    """While the demo's people are made, pages say so instead of counting ages. Ends with the process, however it
    ends."""
    with connection.cursor() as cursor:
        cursor.execute("SELECT pg_advisory_lock(%s)", [MAKING])
    try:
        yield
    finally:
        with connection.cursor() as cursor:
            cursor.execute("SELECT pg_advisory_unlock(%s)", [MAKING])


def free(folders: Sequence[str]) -> dict[str, float]:
    """Megabytes that are free where each folder lies; a folder that is not there is left out."""
    return {one: shutil.disk_usage(one).free / MEGABYTE for one in folders if Path(one).is_dir()}


@cache
def _statement() -> str:
    unsealed = ", ".join(_UNSEALED.format(at=_instant_of(one), table=one.table, code=one.code) for one in sources())
    return _LOOK.format(unsealed=unsealed or "NULL::timestamptz")


def _instant_of(source: Source) -> str:
    """The column that says when a row was written."""
    return "received_at" if "received_at" in source.columns else "at"


def _read(found: Any) -> list[Any]:
    """An array of JSON, whichever way the driver hands it over."""
    return (orjson.loads(found) if isinstance(found, str | bytes) else found) or []


def _instant(text: str) -> datetime:
    return datetime.fromisoformat(text)
