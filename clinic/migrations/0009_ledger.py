"""Rows of the trail become leaves; what has been sealed, and under which signatures."""

import django.db.models.functions.comparison
from django.db import migrations, models

from clinic.append_only import append_only
from clinic.ledger.columns import bytes_check, only_new, stamp_columns


class Migration(migrations.Migration):
    dependencies = [("clinic", "0008_sessions")]

    operations = [
        only_new("clinic_trailrow"),
        migrations.RemoveField(model_name="trailrow", name="detail"),
        migrations.AddField(
            model_name="trailrow",
            name="detail_text",
            field=models.TextField(default="{}", help_text="canonical JSON (RFC 8785)"),
            preserve_default=False,
        ),
        migrations.AddField(
            model_name="trailrow",
            name="detail",
            field=models.GeneratedField(
                db_persist=True,
                expression=django.db.models.functions.comparison.Cast("detail_text", models.JSONField()),
                output_field=models.JSONField(),
            ),
        ),
        *stamp_columns("trailrow", "trail"),
        migrations.CreateModel(
            name="LedgerLeaf",
            fields=[
                ("position", models.BigIntegerField(primary_key=True, serialize=False)),
                ("source", models.SmallIntegerField()),
                ("number", models.BigIntegerField(help_text="of the row in its table")),
                ("leaf", models.BinaryField(max_length=32)),
            ],
            options={
                "constraints": [
                    models.UniqueConstraint(fields=("source", "number"), name="ledger_row_once"),
                    bytes_check("ledger_leaf", "leaf"),
                ],
            },
        ),
        migrations.CreateModel(
            name="LedgerNode",
            fields=[
                (
                    "pk",
                    models.CompositePrimaryKey(
                        "level", "index", blank=True, editable=False, primary_key=True, serialize=False
                    ),
                ),
                ("level", models.SmallIntegerField()),
                ("index", models.BigIntegerField()),
                ("hash", models.BinaryField(max_length=32)),
            ],
            options={"constraints": [bytes_check("ledger_node", "hash")]},
        ),
        migrations.CreateModel(
            name="Checkpoint",
            fields=[
                ("number", models.BigAutoField(primary_key=True, serialize=False)),
                ("size", models.BigIntegerField()),
                ("root", models.BinaryField(max_length=32)),
                ("at", models.DateTimeField()),
                (
                    "edge",
                    models.BinaryField(help_text="the right edge of the tree, from which it goes on (merkle.Edge)"),
                ),
                ("note", models.TextField(help_text="what is signed, with its signatures (note.py)")),
            ],
            options={
                "indexes": [models.Index(fields=["size"], name="checkpoint_size")],
                "constraints": [bytes_check("checkpoint_root", "root")],
            },
        ),
        migrations.CreateModel(
            name="LedgerGap",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("source", models.SmallIntegerField()),
                ("first", models.BigIntegerField()),
                ("last", models.BigIntegerField()),
                (
                    "slipped_in",
                    models.BooleanField(default=False, help_text="a row stands there without a MAC of ours; told once"),
                ),
            ],
            options={
                "constraints": [
                    models.CheckConstraint(condition=models.Q(("first__lte", models.F("last"))), name="gap_order"),
                    models.UniqueConstraint(fields=("source", "first"), name="gap_once"),
                ],
            },
        ),
        *map(append_only, ("clinic_ledgerleaf", "clinic_ledgernode", "clinic_checkpoint")),
    ]
