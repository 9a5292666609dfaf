"""`manage.py check_replay`: every stored alert and status against a replay of the record as it would be exported."""

import sys
from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser

from checklists.alerts.scans import scan_deadlines
from checklists.record.checking import differences
from checklists.record.export import chosen, erased_among
from checklists.record.stale import refresh_stale_boards
from clinic import clock
from clinic.errors import Refusal


class Command(BaseCommand):
    """Ends with 1 and names the differences where there are any."""

    help = "Compare the stored alerts and statuses of every episode, or of those named, with a replay of their record."

    def add_arguments(self, parser: CommandParser) -> None:
        """Which episodes."""
        parser.add_argument("episode", nargs="*", metavar="REF")

    def handle(self, *args: Any, **options: Any) -> None:
        """Bring what time alone changes up to now, as the worker does; then compare."""
        at = clock.now()
        scan_deadlines(at)
        refresh_stale_boards(at)
        try:
            episodes = chosen(options["episode"])
        except Refusal as fault:
            raise CommandError(fault.sentence) from None
        wrong = 0
        for pk, reference in episodes:
            for said in differences(pk, reference, at):
                wrong += 1
                self.stdout.write(f"{reference}: {said}")
        for reference, said, entries in erased_among(episodes):
            self.stderr.write(f"{reference}: {said} Nothing is left to compare of its {entries:,} entries.")
        self.stderr.write(f"{len(episodes):,} episodes compared, {wrong:,} differences.")
        if wrong:
            sys.exit(1)
