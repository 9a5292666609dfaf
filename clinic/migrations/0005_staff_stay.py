"""Nobody who ever worked here disappears, nor their papers: what they did stays theirs."""

from django.db import migrations

from clinic.append_only import REMOVAL_FUNCTION, rows_stay


class Migration(migrations.Migration):
    dependencies = [("clinic", "0004_trail_of_subject")]
    operations = [
        REMOVAL_FUNCTION,
        *map(rows_stay, ("clinic_staff", "clinic_registration", "clinic_authorisation", "clinic_site")),
    ]
