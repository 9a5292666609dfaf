"""Keeping and giving out: retention, legal hold, archives, erasure by two people and by one function alone."""

import uuid

import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models
from django.db.models import Q

from checklists.keeping.erase_sql import BEFORE, functions
from clinic.append_only import append_only, rows_stay


def _staff(**more: bool) -> models.ForeignKey:
    return models.ForeignKey(
        on_delete=django.db.models.deletion.PROTECT, related_name="+", to=settings.AUTH_USER_MODEL, **more
    )


def _person(name: str) -> models.ForeignKey:
    return models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name=name, to="caseload.person")


def _uuid() -> models.UUIDField:
    return models.UUIDField(default=uuid.uuid4, editable=False, primary_key=True, serialize=False)


def _number() -> models.BigAutoField:
    return models.BigAutoField(primary_key=True, serialize=False)


def _of_erasure(name: str) -> models.OneToOneField:
    return models.OneToOneField(
        on_delete=django.db.models.deletion.PROTECT,
        primary_key=True,
        related_name=name,
        serialize=False,
        to="checklists.erasure",
    )


class Migration(migrations.Migration):
    dependencies = [
        ("checklists", "0006_ledger"),
        ("caseload", "0003_person_erased"),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]
    operations = [
        migrations.CreateModel(
            name="Retention",
            fields=[
                ("id", _number()),
                ("years", models.PositiveSmallIntegerField(help_text="empty: kept for ever", null=True)),
                ("reason", models.CharField(help_text="the law or policy that it follows", max_length=400)),
                ("set_at", models.DateTimeField()),
                ("set_by", _staff()),
                (
                    "site",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="retentions", to="clinic.site"
                    ),
                ),
            ],
            options={
                "constraints": [
                    models.CheckConstraint(
                        name="retention_years", condition=Q(years__isnull=True) | Q(years__range=(1, 150))
                    )
                ]
            },
        ),
        migrations.CreateModel(
            name="LegalHold",
            fields=[
                ("id", _uuid()),
                ("reason", models.CharField(max_length=400)),
                ("placed_at", models.DateTimeField()),
                ("lifted_at", models.DateTimeField(null=True)),
                ("lift_reason", models.CharField(blank=True, max_length=400)),
                ("lifted_by", _staff(null=True)),
                ("person", _person("legal_holds")),
                ("placed_by", _staff()),
            ],
            options={
                "indexes": [models.Index(fields=["person"], name="hold_in_force", condition=Q(lifted_at__isnull=True))]
            },
        ),
        migrations.CreateModel(
            name="Archive",
            fields=[
                ("id", _uuid()),
                ("why", models.CharField(max_length=400)),
                ("asked_at", models.DateTimeField()),
                ("step", models.CharField(blank=True, help_text="what the worker is at", max_length=80)),
                ("done", models.PositiveIntegerField(default=0)),
                ("total", models.PositiveIntegerField(default=0)),
                ("made_at", models.DateTimeField(null=True)),
                ("size", models.PositiveBigIntegerField(null=True)),
                (
                    "digest",
                    models.CharField(blank=True, help_text="SHA-256 of the file, hexadecimal", max_length=64),
                ),
                ("taken_at", models.DateTimeField(null=True)),
                (
                    "dropped_at",
                    models.DateTimeField(help_text="when the file went without having been taken", null=True),
                ),
                ("asked_by", _staff()),
                ("person", _person("archives")),
            ],
        ),
        migrations.CreateModel(
            name="ArchiveFile",
            fields=[
                (
                    "archive",
                    models.OneToOneField(
                        on_delete=django.db.models.deletion.PROTECT,
                        primary_key=True,
                        related_name="file",
                        serialize=False,
                        to="checklists.archive",
                    ),
                ),
                ("content", models.BinaryField()),
            ],
        ),
        migrations.CreateModel(
            name="Erasure",
            fields=[
                ("id", _uuid()),
                ("ground", models.CharField(help_text="the provision of law that demands it", max_length=200)),
                ("reason", models.CharField(help_text="stays for ever: no word about the person", max_length=400)),
                (
                    "overrides_retention",
                    models.BooleanField(default=False, help_text="the ground demands it before retention ends"),
                ),
                ("asked_at", models.DateTimeField()),
                ("asked_by", _staff()),
                ("person", _person("erasures")),
            ],
        ),
        migrations.CreateModel(
            name="ErasureDecision",
            fields=[
                ("erasure", _of_erasure("decision")),
                ("confirmed", models.BooleanField()),
                ("reason", models.CharField(blank=True, help_text="why it was turned down", max_length=400)),
                ("decided_at", models.DateTimeField()),
                ("decided_by", _staff()),
            ],
        ),
        migrations.CreateModel(
            name="Erased",
            fields=[
                ("erasure", _of_erasure("erased")),
                ("at", models.DateTimeField()),
                ("counts", models.JSONField(help_text="table → rows that went or were emptied")),
            ],
        ),
        *map(append_only, ("checklists_retention", "checklists_erasure", "checklists_erasuredecision")),
        append_only("checklists_erased"),
        migrations.RunSQL("REVOKE INSERT ON checklists_erased FROM clinic_app", migrations.RunSQL.noop),
        *map(rows_stay, ("checklists_legalhold", "checklists_archive")),
        migrations.RunSQL(functions(), BEFORE),
    ]
