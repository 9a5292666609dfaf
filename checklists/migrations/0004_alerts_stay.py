"""No alert disappears, and nothing that was held or refused; what happened to an alert is never rewritten."""

from django.db import migrations

from clinic.append_only import append_only, rows_stay


class Migration(migrations.Migration):
    dependencies = [("checklists", "0003_protocols_stay"), ("clinic", "0005_staff_stay")]
    operations = [
        append_only("checklists_alertstep"),
        *map(rows_stay, ("checklists_alert", "checklists_heldentry", "checklists_refusedentry", "checklists_head")),
    ]
