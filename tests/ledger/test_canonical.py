"""The canonical bytes of a row: equal to what the library of RFC 8785 writes, and to what SQL makes of the columns."""

from __future__ import annotations

import hashlib
import hmac
import json
import uuid
from collections.abc import Callable
from datetime import UTC, datetime, timedelta, timezone
from typing import Any

import orjson
import pytest
import rfc8785
from django.db import connection
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from checklists.models import Entry
from checklists.record.leaf import ENTRY
from clinic.audit import trail
from clinic.audit.leaf import TRAIL
from clinic.ledger import keys
from clinic.ledger.canonical import canonical_json
from clinic.ledger.sources import Kind, Source, register, sources
from clinic.models import TrailRow
from tests.makers import a_fall, a_therapist, ago, an_attempt, an_episode, now, recorded

TEXTS = st.text(st.characters(exclude_categories=["Cs"], exclude_characters="\0"), max_size=20) | st.sampled_from(
    ["\b\t\n\f\r\x01\x1f\x7f", "\"\\/'%s {0}", "\u2028\u2029\ufeff", "😀\ufb33é", "</script>", "null"]
)
INSTANTS = st.datetimes(
    datetime(1, 1, 2),
    datetime(9999, 12, 30),
    timezones=st.sampled_from([UTC, timezone(timedelta(hours=5, minutes=45)), timezone(-timedelta(hours=8))]),
)
NUMBERS = st.integers(-(2**53) + 1, 2**53 - 1) | st.floats(allow_nan=False, allow_infinity=False)
JSON = st.recursive(
    TEXTS | NUMBERS | st.booleans() | st.none(),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(TEXTS, inner, max_size=3),
    max_leaves=8,
)
DRAWN: dict[Kind, st.SearchStrategy[Any]] = {
    Kind.NUMBER: st.integers(1, 2**53 - 1),
    Kind.TEXT: TEXTS,
    Kind.UUID: st.uuids() | st.uuids().map(str) | st.uuids().map(lambda one: str(one).upper()),
    Kind.MAYBE_UUID: st.none() | st.uuids(),
    Kind.INSTANT: INSTANTS,
    Kind.BYTES: st.binary(min_size=32, max_size=32),
    Kind.JSON: st.dictionaries(TEXTS, JSON, max_size=3).map(lambda one: canonical_json(one).decode()),
}
TYPES = {
    Kind.NUMBER: "bigint", Kind.TEXT: "text", Kind.UUID: "uuid", Kind.MAYBE_UUID: "uuid", Kind.INSTANT: "timestamptz",
    Kind.BYTES: "bytea", Kind.JSON: "text",
}  # fmt: skip  # a table, read by row


def number(digits: str) -> float:
    """A number of a JSON text; a fraction that happens to be whole, and is beyond the exact ones, is one again."""
    return int(digits) if abs(int(digits)) < 2**53 else float(digits)


# as the definition has it: each value a member of an object, written by the standard's library
PLAIN: dict[Kind, Callable[[Any], Any]] = {
    Kind.NUMBER: int,
    Kind.TEXT: str,
    Kind.UUID: lambda one: str(uuid.UUID(str(one))),
    Kind.MAYBE_UUID: lambda one: None if one is None else str(one),
    Kind.INSTANT: lambda one: one.astimezone(UTC).strftime("%Y-%m-%dT%H:%M:%S.%fZ").rjust(27, "0"),
    Kind.BYTES: lambda one: one.hex(),
    Kind.JSON: lambda one: json.loads(one, parse_int=number),
}


def rows_of(source: Source) -> st.SearchStrategy[dict[str, Any]]:
    return st.fixed_dictionaries({column: DRAWN[kind] for column, kind in source.columns.items()})


def by_the_standard(source: Source, row: dict[str, Any]) -> bytes:
    said = {source.names.get(column, column): PLAIN[kind](row[column]) for column, kind in source.columns.items()}
    return rfc8785.dumps(said | {"table": source.table, "format": 1})


def by_sql(source: Source, row: dict[str, Any]) -> bytes:
    columns = ", ".join(f"%({column})s::{TYPES[kind]} AS {column}" for column, kind in source.columns.items())
    with connection.cursor() as cursor:
        cursor.execute("SET LOCAL TimeZone = 'Asia/Kathmandu'")  # whatever the session's zone and style, the same bytes
        cursor.execute("SET LOCAL DateStyle = 'SQL, DMY'")
        statement = f"SELECT {source.sql('r')} FROM (SELECT {columns}) AS r"
        cursor.execute(statement, row)
        return str(cursor.fetchone()[0]).encode()


@given(JSON)
def test_json_is_written_as_the_standard_writes_it(value: Any) -> None:
    assert canonical_json(value) == rfc8785.dumps(value)


@pytest.mark.parametrize("value", [float("nan"), 2**53, {"a": [-(2**53)]}, {"a": now()}, {1: "a"}, {"a": b"a"}])
def test_what_json_cannot_say_exactly_is_refused(value: Any) -> None:
    with pytest.raises(rfc8785.CanonicalizationError):
        canonical_json(value)


@pytest.mark.django_db
@pytest.mark.parametrize("source", [ENTRY, TRAIL], ids=lambda source: source.table)
@settings(max_examples=150, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.data())
def test_the_bytes_of_a_row_are_those_of_the_standard_and_those_of_sql(source: Source, data: st.DataObject) -> None:
    row = data.draw(rows_of(source))
    assert source.canonical(row) == by_the_standard(source, row) == by_sql(source, row)


def test_every_column_of_a_table_but_leaf_and_mac_is_in_its_bytes() -> None:
    for source, model in ((ENTRY, Entry), (TRAIL, TrailRow)):
        derived = {"detail"}  # the database works it out of detail_text
        wanted = {field.column for field in model._meta.concrete_fields} - {"leaf", "mac"} - derived
        assert set(source.columns) == wanted
        assert source.table == model._meta.db_table
    assert sources() == [ENTRY, TRAIL]


def test_two_tables_do_not_share_a_code() -> None:
    with pytest.raises(ValueError, match="the same code"):
        register(Source(ENTRY.code, "other", {"number": Kind.NUMBER}))


@pytest.mark.django_db
def test_what_is_written_bears_the_leaf_of_its_columns_and_a_mac_by_the_key_in_the_file() -> None:
    therapist = a_therapist()
    episode = an_episode(assigned_to=therapist)
    recorded(therapist, episode, an_attempt(at=ago(minutes=3)))  # one, and then several at once
    recorded(therapist, episode, an_attempt(at=ago(minutes=2)), a_fall(injury="none", at=ago(minutes=1)))
    trail.record(therapist, "person.opened", "person", "é\u2028\n", at=now(), detail={"b": [1.5, "ü"], "a": None})
    (key,) = keys.mac_keys()
    for source, least in ((ENTRY, 4), (TRAIL, 3)):
        with connection.cursor() as cursor:
            cursor.execute(f"SELECT {source.sql()}, leaf, mac FROM {source.table}")
            rows = cursor.fetchall()
        assert len(rows) >= least
        for text, leaf, mac in rows:
            assert rfc8785.dumps(orjson.loads(text)) == text.encode()
            assert bytes(leaf) == hashlib.sha256(b"\0" + text.encode()).digest()
            assert bytes(mac) == hmac.digest(key, bytes(leaf), "sha256")
    assert TrailRow.objects.get(subject_id="é\u2028\n").detail == {"b": [1.5, "ü"], "a": None}
