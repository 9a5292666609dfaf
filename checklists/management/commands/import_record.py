"""`manage.py import_record`: take a history in from JSON Lines, line by line, and say throughout what is in."""

import sys
from collections import Counter
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser

from checklists.record.importing import import_lines
from clinic import access, clock
from clinic.access import Action
from clinic.staff.models import Staff, name_key

EVERY = 5_000


class Command(BaseCommand):
    """Thin: reads the file, prints what became of its lines. Ends with 1 where a line was refused."""

    help = "Import a history (JSON Lines). Bad lines are refused alone; the same file again changes nothing."

    def add_arguments(self, parser: CommandParser) -> None:
        """The file, and who answers for the import."""
        parser.add_argument("file", type=Path, metavar="FILE")
        parser.add_argument(
            "--as", dest="username", metavar="NAME", help="the lead who answers for it, by sign-in name"
        )

    def handle(self, *args: Any, **options: Any) -> None:
        """Import; whatever stops it, say how far it came."""
        actor = _lead(options["username"])
        counts: Counter[str] = Counter()
        last = told = 0
        try:
            with options["file"].open("rb") as counted:
                total = sum(1 for _ in counted)
            with options["file"].open("rb") as source:
                for reports in import_lines(actor, source):
                    for report in reports:
                        counts[report.outcome] += 1
                        last = report.number
                        if report.error:
                            self.stdout.write(f"line {report.number}: {report.outcome}: {report.error}")
                    if last - told >= EVERY:
                        told = last
                        self.stderr.write(f"{last:,} of {total:,} lines: {_words(counts)} …")
        except OSError as fault:
            raise CommandError(f"{options['file']} cannot be read: {fault.strerror}.") from None
        except BaseException:
            self.stderr.write(f"Stopped after line {last:,}: {_words(counts)}. What is accepted is in; run it again.")
            raise
        self.stderr.write(f"{total:,} lines: {_words(counts)}.")
        if counts["refused"]:
            sys.exit(1)


def _lead(username: str | None) -> Staff:
    """Whoever answers for it: the named lead, or the first one of this clinic."""
    now = clock.now()
    staff = Staff.objects.filter(is_active=True).order_by("joined_at", "reference")
    if username:
        staff = staff.filter(username_key=name_key(username))
    for one in staff:
        if access.reach(one, Action.IMPORT_RECORD, now) is not None:
            return one
    raise CommandError("No clinic lead of that name may import. Name one with --as, or make one with first_lead.")


def _words(counts: Counter[str]) -> str:
    return ", ".join(f"{count:,} {outcome}" for outcome, count in sorted(counts.items())) or "nothing to import"
