"""The record of facts can be added to and read, and nothing else."""

from django.db import migrations

from clinic.append_only import append_only


class Migration(migrations.Migration):
    dependencies = [("checklists", "0001_initial"), ("clinic", "0002_append_only")]
    operations = [
        append_only("checklists_entry"),
        append_only("checklists_entrycontent"),
        append_only("checklists_signedevidence"),
    ]
