"""Whoever acts in Spanish leaves the same bytes as whoever acts in English: record, evidence, statements, digests,
trail and the leaves that the ledger is made of. The same acts are done in both, by the same clock and with the same
random numbers."""

from __future__ import annotations

import hashlib
import itertools
import json
import os
from collections.abc import Iterator
from datetime import datetime
from typing import Any
from uuid import UUID

import psycopg
import pytest
from django.conf import settings
from django.db import connection, transaction
from django.utils import translation
from psycopg import sql

from checklists.alerts.services import acknowledge
from checklists.models import Alert, Entry, SignedEvidence
from checklists.signoff.services import readiness, sign_off, withdraw_sign_off
from clinic import clock
from clinic.audit.models import TrailRow
from clinic.outbox.drain import drain
from tests import makers, world
from tests.makers import a_proof, a_therapist, ago, an_attempt, an_episode, recorded

pytestmark = pytest.mark.django_db
Rows = dict[str, list[dict[str, Any]]]
# What is random by other means, and says nothing: salted hashes of passwords, secrets, sessions, what a tablet sealed;
# the ids of alerts, which the database makes, and with them the bytes of an archive that lists them.
NOT_COMPARED = {
    "clinic_staff": {"password"},
    "clinic_tablet": {"secret"},
    "checklists_sealedmark": {"enc", "box", "digest"},
    "checklists_alert": {"id"},
    "checklists_alertstep": {"alert_id"},
    "checklists_archive": {"size", "digest"},
    "checklists_archivefile": {"content"},
    "django_session": {"session_key", "session_data", "expire_date"},
    "clinic_staffsession": {"key"},
}
OF_AN_ARCHIVE = {"detail", "detail_text", "leaf", "mac"}  # of the trail's row of one that was made: its digest


def _sequences(owner: psycopg.Connection) -> dict[str, int | None]:
    found = owner.execute("SELECT sequencename, last_value FROM pg_sequences WHERE schemaname = 'public'")
    return dict(found.fetchall())


def _wind_back(sequences: dict[str, int | None], owner: psycopg.Connection) -> None:
    """A savepoint does not take numbers back, and the programme's own role may not."""
    for name, last in sequences.items():
        owner.execute("SELECT setval(%s, %s, %s)", [name, last or 1, last is not None])
    owner.commit()


def _rows() -> Rows:
    """What stands in every table, in an order of its own."""
    with connection.cursor() as cursor:
        cursor.execute("SELECT tablename FROM pg_tables WHERE schemaname = 'public' ORDER BY tablename")
        found = {}
        for (table,) in cursor.fetchall():
            cursor.execute(sql.SQL("SELECT to_jsonb(t)::text FROM {} t").format(sql.Identifier(table)))
            rows = [_compared(table, json.loads(row)) for (row,) in cursor.fetchall()]
            found[table] = sorted(rows, key=lambda row: json.dumps(row, sort_keys=True))
    return found


def _compared(table: str, row: dict[str, Any]) -> dict[str, Any]:
    less = OF_AN_ARCHIVE if row.get("verb") == "archive.made" else NOT_COMPARED.get(table, set())
    return {key: value for key, value in row.items() if key not in less}


def _numbers() -> Iterator[bytes]:
    for number in itertools.count():
        yield hashlib.sha256(number.to_bytes(8)).digest()


def _urandom(source: Iterator[bytes]) -> Any:
    return lambda size: b"".join(itertools.islice(source, -(-size // 32)))[:size]


def _acts() -> None:
    """One of everything (tests/world.py); then a sign-off, its withdrawal, and an answer to an alert."""
    everything = world.a_world()
    signer = a_therapist()
    episode = an_episode(assigned_to=signer)
    for days in (2, 1, 1):
        recorded(signer, episode, an_attempt("don_check", "none", help="watching", at=ago(days=days)))
    recorded(signer, episode, an_attempt("stair_up", "none", help="alone", despite="They went on"))
    given: dict[str, Any] = {"actor": signer, "episode_id": episode.pk, "skill": "don_check"}
    digest = readiness(**given).digest
    sign_off(**given, digest=digest, proof=a_proof(signer))
    withdraw_sign_off(**given, reason="Skin broke down.", proof=a_proof(signer))
    drain()
    open_alert = Alert.objects.filter(episode=episode).order_by("pk")[0]
    acknowledge(actor=signer, episode_id=episode.pk, entry=UUID(str(open_alert.entry)), text="Looked at.")
    drain()
    assert everything["lead"].language == ""


def _done_in(language: str, monkeypatch: pytest.MonkeyPatch, at: datetime) -> Rows:
    """Do it, look at everything, and undo it."""
    mark = transaction.savepoint()
    with monkeypatch.context() as patched, translation.override(language), clock.at_instant(at):
        patched.setattr(os, "urandom", _urandom(_numbers()))
        patched.setattr(makers, "_number", itertools.count(1))
        for module in (makers, world):
            patched.setattr(module, "now", lambda: at.replace(microsecond=0))
        _acts()
        found = _rows()
    transaction.savepoint_rollback(mark)
    return found


def _differing(first: list[dict[str, Any]], second: list[dict[str, Any]]) -> Iterator[tuple[Any, Any]]:
    nothing: dict[str, Any] = {}
    for one, two in itertools.zip_longest(first, second, fillvalue=nothing):
        if one != two:
            keys = [key for key in {**one, **two} if one.get(key) != two.get(key)]
            yield {key: one.get(key) for key in keys}, {key: two.get(key) for key in keys}


def test_the_same_acts_leave_the_same_bytes_in_any_language(
    monkeypatch: pytest.MonkeyPatch, owner: psycopg.Connection
) -> None:
    monkeypatch.setattr(settings, "CLOCK_CAN_BE_SET", True)
    at, before = clock.now(), _sequences(owner)
    english = _done_in("en-gb", monkeypatch, at)
    _wind_back(before, owner)
    spanish = _done_in("es", monkeypatch, at)
    assert sorted(english) == sorted(spanish)
    assert [(table, one, two) for table in english for one, two in _differing(english[table], spanish[table])] == []
    for model, least in ((Entry, 10), (SignedEvidence, 2), (Alert, 2), (TrailRow, 30)):
        assert len(english[model._meta.db_table]) >= least, model
