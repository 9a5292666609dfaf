"""An answer to an alert can be taken back: a step of its own, which says why."""

from django.db import migrations, models

KINDS = {
    "raised": "raised",
    "withdrawn": "withdrawn",
    "raised_again": "raised again",
    "acknowledged": "acknowledged",
    "taken_back": "answer taken back",
    "escalated": "escalated to the lead",
}


class Migration(migrations.Migration):
    dependencies = [("checklists", "0011_erase_knee_said")]
    operations = [
        migrations.RemoveConstraint("alertstep", "alert_step_kind"),
        migrations.AlterField("alertstep", "kind", models.CharField(choices=list(KINDS.items()), max_length=14)),
        migrations.AlterField(
            "alertstep",
            "text",
            models.CharField(blank=True, help_text="what was done, or why an answer is taken back", max_length=2000),
        ),
        migrations.AddConstraint(
            "alertstep",
            models.CheckConstraint(condition=models.Q(("kind__in", list(KINDS))), name="alert_step_kind"),
        ),
    ]
