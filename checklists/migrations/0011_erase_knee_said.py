"""An erasure takes away, too, whether anybody knew the knee when the episode was opened."""

from django.db import migrations

from checklists.keeping.erase_sql import functions


class Migration(migrations.Migration):
    dependencies = [("caseload", "0005_knee_not_known"), ("checklists", "0010_sealed")]
    operations = [migrations.RunSQL(functions(), migrations.RunSQL.noop)]
