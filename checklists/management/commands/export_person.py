"""`manage.py export_person`: a person's whole record as one archive, for the person, or for whoever the law names."""

from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser

from checklists.keeping.giving import export_person
from clinic.errors import Refusal
from clinic.management.asker import add_asker, asker


class Command(BaseCommand):
    """Thin: names the person and the file."""

    help = "Write a person's whole record to a zip file: to read, to print, and for another server to take in."

    def add_arguments(self, parser: CommandParser) -> None:
        """Whose, where to, and who asks."""
        parser.add_argument("number", metavar="NUMBER", help="the clinic's number of the person")
        parser.add_argument("file", metavar="FILE.zip", help="where to write it; must not exist yet")
        add_asker(parser)

    def handle(self, *args: Any, **options: Any) -> None:
        """Export, and say what it is and its fingerprint."""
        actor = asker(options)
        path = Path(options["file"])
        try:
            with path.open("xb") as out:
                path.chmod(0o600)
                try:
                    taken = export_person(actor=actor, number=options["number"])
                except Refusal:
                    path.unlink()
                    raise
                out.write(taken.content)
        except Refusal as fault:
            raise CommandError(fault.sentence) from None
        except OSError as fault:
            raise CommandError(f"{path} cannot be written: {fault.strerror}.") from None
        self.stderr.write(f"{path.name}: {len(taken.content):,} bytes, SHA-256 {taken.digest}.")
