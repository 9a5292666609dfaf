"""Emergency access: one episode, one hour, never removed."""

import uuid

import django.contrib.postgres.constraints
import django.contrib.postgres.fields.ranges
import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models
from django.db.models import F, Q

from clinic.append_only import rows_stay


class Migration(migrations.Migration):
    dependencies = [("caseload", "0003_person_erased")]
    operations = [
        migrations.CreateModel(
            name="EmergencyAccess",
            fields=[
                ("id", models.UUIDField(default=uuid.uuid4, editable=False, primary_key=True, serialize=False)),
                ("period", django.contrib.postgres.fields.ranges.DateTimeRangeField()),
                ("reason", models.CharField(max_length=400)),
                (
                    "judgement",
                    models.CharField(
                        blank=True,
                        choices=[("needed", "it was needed"), ("not_needed", "it was not needed")],
                        max_length=10,
                    ),
                ),
                ("judged_at", models.DateTimeField(null=True)),
                ("judged_text", models.CharField(blank=True, max_length=400)),
                (
                    "episode",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="emergencies", to="caseload.episode"
                    ),
                ),
                (
                    "judged_by",
                    models.ForeignKey(
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "staff",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="emergencies",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
            ],
            options={
                "indexes": [
                    models.Index(fields=["staff"], name="emergency_of_staff"),
                    models.Index(condition=Q(judged_at__isnull=True), fields=["judged_at"], name="emergency_to_judge"),
                ],
                "constraints": [
                    models.CheckConstraint(
                        condition=Q(judgement__in=["", "needed", "not_needed"]), name="emergency_judgement"
                    ),
                    models.CheckConstraint(condition=~Q(reason=""), name="emergency_says_why"),
                    models.CheckConstraint(
                        condition=Q(judged_by__isnull=True) | ~Q(judged_by=F("staff")),
                        name="emergency_judged_by_another",
                    ),
                    django.contrib.postgres.constraints.ExclusionConstraint(
                        expressions=[(F("episode"), "="), (F("staff"), "="), ("period", "&&")], name="emergency_once"
                    ),
                ],
            },
        ),
        migrations.RunSQL(
            # the hour is the database's to hold, too
            """
            ALTER TABLE caseload_emergencyaccess ADD CONSTRAINT emergency_is_an_hour CHECK (
                lower(period) IS NOT NULL AND upper(period) <= lower(period) + interval '1 hour'
            )
            """,
            "ALTER TABLE caseload_emergencyaccess DROP CONSTRAINT emergency_is_an_hour",
        ),
        rows_stay("caseload_emergencyaccess"),
    ]
