"""A protocol version, once stored, stays as it is."""

from django.db import migrations

from clinic.append_only import append_only


class Migration(migrations.Migration):
    dependencies = [("checklists", "0002_append_only")]
    operations = [append_only("checklists_protocolversion")]
