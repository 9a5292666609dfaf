"""The write path as it would be without the ledger, to be measured beside it.

Twins of the two tables (and of the contents, which refer to one) without leaf, MAC and canonical text, with the same
rows, indexes, references and policies; and the same programme, that writes into these, stamps nothing and leaves the
numbers to the database. The twins are made by the owner of the tables, in the bench's own database.
"""

from __future__ import annotations

import os
from collections.abc import Iterator
from contextlib import contextmanager

import orjson
import psycopg

from checklists.record import lock, writing
from clinic.audit import trail
from clinic.ledger.mac import Stamp

TWINS = {
    "checklists_entry": ("bare_entry", "DROP COLUMN leaf, DROP COLUMN mac"),
    "checklists_entrycontent": ("bare_content", ""),
    "clinic_trailrow": (
        "bare_trail",
        "DROP COLUMN detail, DROP COLUMN detail_text, DROP COLUMN leaf, DROP COLUMN mac, ADD COLUMN detail jsonb",
    ),
}
_REFERENCES = "SELECT pg_get_constraintdef(oid) FROM pg_constraint WHERE conrelid = %s::regclass AND contype = 'f'"
_POLICIES = "SELECT policyname, permissive, cmd, qual, with_check FROM pg_policies WHERE tablename = %s"
_COLUMNS = "SELECT string_agg(column_name, ', ') FROM information_schema.columns WHERE table_name = %s"
FACT = """
new AS (
    INSERT INTO bare_entry (id, episode_id, kind, at, by_id, received_at, sender_id, door, commitment)
    VALUES (%(id)s, %(episode)s, %(kind)s, %(at)s, %(by)s, %(now)s, %(sender)s, %(door)s, %(commitment)s)
), content AS (
    INSERT INTO bare_content (entry_id, body, salt) VALUES (%(id)s, %(body)s, %(salt)s)
)"""
TRAIL = """
trail AS (
    INSERT INTO bare_trail (at, actor_id, verb, subject, subject_id, episode, origin, detail)
    VALUES (%(now)s, %(sender)s, %(verb)s, %(subject)s, %(subject_id)s, %(episode)s, %(origin)s, %(detail)s::jsonb)
)"""
_NUMBERS = lock._LOCK[lock._LOCK.index("    ARRAY(SELECT CASE n") : lock._LOCK.index("FROM checklists_head")]
NOTHING = Stamp(b"", b"")


def make_twins() -> None:
    """Make the tables, and put into them what stands in the real ones."""
    with psycopg.connect(os.environ["MIGRATE_DATABASE_URL"]) as owner:
        for table, (twin, change) in TWINS.items():
            owner.execute(f"CREATE TABLE {twin} (LIKE {table} INCLUDING ALL)")
            if change:
                owner.execute(f"ALTER TABLE {twin} {change}")
            (columns,) = owner.execute(_COLUMNS, [twin]).fetchone() or ("",)
            owner.execute(f"INSERT INTO {twin} ({columns}) SELECT {columns} FROM {table}")  # noqa: S608 - names from TWINS
            if "number" in columns.split(", "):
                owner.execute(f"SELECT setval('{twin}_number_seq', greatest(1, max(number))) FROM {table}")  # noqa: S608 - our own names
            _bind(owner, table, twin)
            owner.execute(f"ANALYZE {twin}")


def _bind(owner: psycopg.Connection, table: str, twin: str) -> None:
    """The same references and policies as the real table has."""
    for (words,) in owner.execute(_REFERENCES, [table]).fetchall():
        owner.execute(f"ALTER TABLE {twin} ADD {words.replace('checklists_entry(', 'bare_entry(')}")
    policies = owner.execute(_POLICIES, [table]).fetchall()
    for name, permissive, command, using, check in policies:
        clauses = (f" USING ({using})" if using else "") + (f" WITH CHECK ({check})" if check else "")
        words = f"{name} ON {twin} AS {permissive} FOR {command}{clauses}"
        owner.execute(f"CREATE POLICY {words.replace(f'{table}.', f'{twin}.')}")
    if policies:
        owner.execute(f"ALTER TABLE {twin} ENABLE ROW LEVEL SECURITY")


@contextmanager
def without_ledger() -> Iterator[None]:
    """Inside, `record_entries` (of one fact that breaks nothing) writes into the twins, and nothing for the ledger."""
    changed = [
        (writing, "_FACT", FACT),
        (writing, "_TRAIL", TRAIL),
        (writing, "_stamp", lambda *_: NOTHING),
        (trail, "stamped", lambda row: row | {"leaf": b"", "mac": b""}),
        (trail, "canonical_json", orjson.dumps),
        (lock, "_LOCK", lock._LOCK.replace(_NUMBERS, "    ARRAY[0, 0]::bigint[]\n")),
    ]
    before = [(place, name, getattr(place, name)) for place, name, _ in changed]
    try:
        for place, name, other in changed:
            setattr(place, name, other)
        yield
    finally:
        for place, name, was in before:
            setattr(place, name, was)
