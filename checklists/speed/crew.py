"""What every writer of the bench has read before it is hired: read once, in the process that all of them come from."""

from importlib import import_module

import django

READ = ("checklists.record.services", "checklists.speed.data", "checklists.speed.recording", "clinic.ledger.seal")

django.setup()
for name in READ:
    import_module(name)
