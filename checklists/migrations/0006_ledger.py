"""Facts become leaves of the ledger."""

from django.db import migrations

from clinic.ledger.columns import only_new, stamp_columns


class Migration(migrations.Migration):
    dependencies = [("checklists", "0005_adoption"), ("clinic", "0009_ledger")]
    operations = [only_new("checklists_entry"), *stamp_columns("entry", "entry")]
