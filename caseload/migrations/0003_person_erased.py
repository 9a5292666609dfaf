"""Whose record was erased says so, with the day and the reason."""

from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [("caseload", "0002_plans_stay")]
    operations = [
        migrations.AddField("person", "erased_at", models.DateTimeField(null=True)),
        migrations.AddField(
            "person",
            "erased_because",
            models.CharField(blank=True, default="", help_text="the legal ground, and the reason", max_length=700),
        ),
    ]
