"""`manage.py reapply_erasures`: erase again what a restored backup has brought back
(checklists/keeping/erased_list.py).

`restore` calls it by itself; by hand it does no harm.
"""

import sys
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.db import DatabaseError

from checklists.keeping import erased_list
from clinic import clock


class Command(BaseCommand):
    """Ends with 1 where something that was erased is still, or again, in this database."""

    help = "Erase again, in a restored database, whatever the list of erasures names."

    def add_arguments(self, parser: CommandParser) -> None:
        """Which list."""
        parser.add_argument("file", metavar="FILE", nargs="?", help="the list; by default the server's own")

    def handle(self, *args: Any, **options: Any) -> None:
        """One line each, and the sum."""
        path = Path(options["file"]) if options["file"] else erased_list.file()
        if options["file"] and not path.exists():
            raise CommandError(f"There is no list {path.name}.")
        try:
            listed = erased_list.read(path)
            again = list(erased_list.reapply(listed, at=clock.now()))
        except ValueError as fault:
            raise CommandError(f"{fault}. Nothing was erased.") from None
        except DatabaseError as fault:
            raise CommandError(f"The database refused: {str(fault).splitlines()[0]}") from None
        for one in again:
            self.stdout.write(f"{one.erasure}: {one.said or 'erased again'}")
        done, failed = sum(not one.said for one in again), sum(one.failed for one in again)
        self.stderr.write(f"{len(again):,} erasures in the list, {done:,} done again, {failed:,} failed.")
        if failed:
            sys.exit(1)
