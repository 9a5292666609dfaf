"""The audit trail can be added to and read, and nothing else."""

from django.db import migrations

from clinic.append_only import GUARD_FUNCTION, append_only


class Migration(migrations.Migration):
    dependencies = [("clinic", "0001_initial")]
    operations = [GUARD_FUNCTION, append_only("clinic_trailrow")]
