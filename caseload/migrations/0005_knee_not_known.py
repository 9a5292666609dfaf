"""A knee that nobody knows yet is no knee without features."""

from django.contrib.postgres.fields import ArrayField
from django.db import migrations, models

# Who waits and has no feature was taken by a form that did not ask whether anybody knew: the careful reading.
NOBODY_KNEW = """
    UPDATE caseload_referral SET features = NULL WHERE features = '{}' AND accepted_at IS NULL AND ended_at IS NULL
"""


class Migration(migrations.Migration):
    dependencies = [("caseload", "0004_emergency")]
    operations = [
        migrations.AddField(
            "episode",
            "knee_said",
            models.BooleanField(
                null=True,
                help_text="opened with a knee that nobody knew: has the record said it since? NULL: known at once",
            ),
        ),
        migrations.AlterField(
            "referral",
            "features",
            ArrayField(
                models.CharField(max_length=20),
                null=True,
                blank=True,
                help_text="what the knee has; NULL where nobody knows it yet",
            ),
        ),
        migrations.RunSQL(NOBODY_KNEW, migrations.RunSQL.noop),
    ]
