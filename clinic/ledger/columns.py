"""What the database itself knows about the two columns that a row of the ledger has besides what it says."""

from __future__ import annotations

from django.db import models
from django.db.migrations.operations import AddConstraint, AddField
from django.db.migrations.operations.base import Operation
from django.db.migrations.operations.special import RunSQL
from django.db.models.lookups import Exact

BYTES = 32


def stamp_checks(name: str) -> list[models.CheckConstraint]:
    """Leaf and MAC have 32 bytes each."""
    return [
        models.CheckConstraint(condition=Exact(_octets(column), BYTES), name=f"{name}_{column}")
        for column in ("leaf", "mac")
    ]


def bytes_check(name: str, column: str) -> models.CheckConstraint:
    """A hash has 32 bytes."""
    return models.CheckConstraint(condition=Exact(_octets(column), BYTES), name=name)


def _octets(column: str) -> models.Func:
    return models.Func(models.F(column), function="octet_length", output_field=models.IntegerField())


def stamp_columns(model: str, name: str) -> list[Operation]:
    """The operations that give a table its leaf and its MAC."""
    columns = [
        AddField(model, column, models.BinaryField(default=b"", max_length=32), preserve_default=False)
        for column in ("leaf", "mac")
    ]
    return [*columns, *(AddConstraint(model, check) for check in stamp_checks(name))]


def only_new(table: str) -> Operation:
    """The operation that refuses a table with rows from before it had leaves: nobody could say whose they are."""
    return RunSQL(
        f"""
        DO $$ BEGIN
            IF EXISTS (SELECT FROM {table}) THEN
                RAISE EXCEPTION 'The rows of {table} are older than the ledger and cannot be sealed after the fact.'
                    USING HINT = 'Begin with an empty database (the demo: manage.py demo --fresh).';
            END IF;
        END $$;
        """,
        RunSQL.noop,
    )
