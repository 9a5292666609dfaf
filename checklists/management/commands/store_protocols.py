"""`manage.py store_protocols`: keep every protocol document at its first use; refuse to start on one that was
changed."""

from typing import Any

from django.core.management.base import BaseCommand, CommandError

from checklists.record import protocols
from clinic import clock
from clinic.errors import Refusal


class Command(BaseCommand):
    """Part of every start, after the migrations and before anything serves."""

    help = "Store the protocol documents; ends with 1 where other bytes stand under a version that is in use."

    def handle(self, *args: Any, **options: Any) -> None:
        """Store them, and name them."""
        try:
            kept = protocols.store_all(clock.now())
        except Refusal as fault:
            raise CommandError(fault.sentence) from None
        if options["verbosity"] > 0:
            self.stdout.write("Protocols: " + ", ".join(f"{one} ({one.digest[:12]}…)" for one in kept))
