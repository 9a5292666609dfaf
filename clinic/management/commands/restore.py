"""`manage.py restore --check FILE` and `restore --into NAME FILE`: is this backup good, and: use it."""

from __future__ import annotations

import sys
from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError
from django.db import transaction

from clinic import clock
from clinic.audit import trail
from clinic.run.backup import manifest, restore
from clinic.run.backup.restore import Report
from clinic.run.backup.tools import Failed
from clinic.watch.beats import beat

NEXT = (
    "Before the doors open: set DATABASE_URL to it; end again the accounts of whoever has left since; and read "
    "'Restoring' in the clinic's guide about the ledger, which goes on only when somebody has looked."
)


class Command(BaseCommand):
    """Ends with 1 where the backup is not good, or nothing could be restored."""

    help = "Prove a backup by restoring it into a database of its own (--check), or restore it for good (--into NAME)."

    def add_arguments(self, parser: ArgumentParser) -> None:
        what = parser.add_mutually_exclusive_group(required=True)
        what.add_argument("--check", action="store_true", help="restore, replay, verify, drop again")
        what.add_argument("--into", metavar="NAME", help="a database that is not there yet, or has no rows")
        parser.add_argument(
            "--unmarked", action="store_true", help="also without a mark of our keys: only what never left your hands"
        )
        parser.add_argument("file", metavar="FILE", type=Path, help="the .dump; its manifest stands beside it")

    def handle(self, *args: Any, file: Path, check: bool, into: str | None, unmarked: bool, **options: Any) -> None:
        try:
            report = restore.into(file, into, unmarked=unmarked) if into else restore.check(file, unmarked=unmarked)
        except Failed as fault:
            raise CommandError(str(fault)) from None
        self._tell(report)
        if report.faults:
            self.stderr.write(
                f"{file.name} is NOT good: do not rely on it. Make another now and check that; if it is found wrong in "
                "the same way, it is the record and not the backup: verify_ledger and check_replay say where."
            )
            sys.exit(1)
        if into:
            self.stdout.write(f"The database {into} holds the backup. {NEXT}")
        else:
            _account(file)
            self.stdout.write(f"{file.name} is good.")

    def _tell(self, report: Report) -> None:
        for line in report.good:
            self.stdout.write(f"  {line}")
        for line in report.unseen:
            self.stdout.write(f"  NOT LOOKED AT: {line}")
        for line in report.faults:
            self.stderr.write(f"  WRONG: {line}")


@transaction.atomic(durable=True)
def _account(file: Path) -> None:
    at, said = clock.now(), manifest.read(file)
    detail = {"file": file.name, "rows": said.rows}
    beat("restore", at, detail)
    trail.record(None, "backup.proven", "backup", file.name, at=at, detail=detail)
