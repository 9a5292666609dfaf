"""What was refused knows as which entry it was recorded again."""

from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [("checklists", "0012_alert_taken_back")]
    operations = [
        migrations.AddField(
            "refusedentry",
            "again_as",
            models.UUIDField(help_text="the entry as which it was recorded again", null=True),
        ),
    ]
