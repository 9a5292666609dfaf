"""`manage.py export_record`: the record of episodes as JSON Lines, for `replay`, `import_record`, or whoever may ask
for it."""

import sys
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser

from checklists.record.export import chosen, erased_among, export
from clinic import clock
from clinic.errors import Refusal
from clinic.management.asker import add_asker, asker


class Command(BaseCommand):
    """Thin: names the episodes and the file."""

    help = "Write the record of episodes to a file (- for standard output). Leaves a row in the trail for each."

    def add_arguments(self, parser: CommandParser) -> None:
        """Which episodes, who asks, and where to."""
        parser.add_argument("file", metavar="FILE", help="where to write; - for standard output")
        which = parser.add_mutually_exclusive_group(required=True)
        which.add_argument("--episode", nargs="+", action="extend", metavar="REF", default=None, help="these episodes")
        which.add_argument("--all", action="store_true", help="every episode")
        add_asker(parser)

    def handle(self, *args: Any, **options: Any) -> None:
        """Export, and say how much that was."""
        actor = asker(options)
        try:
            if options["file"] == "-":
                counts = export(options["episode"] or [], sys.stdout.buffer, actor=actor, at=clock.now())
            else:
                with Path(options["file"]).open("wb") as out:
                    counts = export(options["episode"] or [], out, actor=actor, at=clock.now())
        except Refusal as fault:
            raise CommandError(fault.sentence) from None
        except OSError as fault:
            raise CommandError(f"{options['file']} cannot be written: {fault.strerror}.") from None
        for reference, said, entries in erased_among(chosen(options["episode"] or [])):
            self.stderr.write(f"{reference}: {said} Its {entries:,} entries are not in this file.")
        self.stderr.write(f"Exported {counts[1]:,} entries of {counts[0]:,} episodes.")
