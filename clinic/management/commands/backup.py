"""`manage.py backup [--to FOLDER]`: the whole database, consistent, with a manifest; the keys are not in it."""

from __future__ import annotations

from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError
from django.db import transaction

from clinic import clock
from clinic.audit import trail
from clinic.run.backup.make import Made, make
from clinic.run.backup.manifest import KEYS
from clinic.run.backup.tools import Failed
from clinic.watch.beats import beat


class Command(BaseCommand):
    """Ends with 1, and one sentence, where there is no backup afterwards."""

    help = "Back the database up. The ledger's keys are NOT in it: keep those apart, in two places."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--to", metavar="FOLDER", type=Path, default=Path(settings.BACKUP_FOLDER))
        parser.add_argument(
            "--keep", metavar="N", type=int, default=settings.BACKUPS_KEPT, help="older ones go; 0: none"
        )

    def handle(self, *args: Any, to: Path, keep: int, **options: Any) -> None:
        try:
            made = make(to, clock.now(), kept=keep)
        except Failed as fault:
            raise CommandError(f"No backup was made. {fault}") from None
        _account(made)
        said = made.manifest
        self.stdout.write(
            f"{made.path}: {said.rows:,} rows of {len(said.facts['rows'])} tables, {said.size / 1_048_576:.1f} MB, "
            f"up to {said.leaves:,} sealed rows."
        )
        if made.removed:
            self.stdout.write(f"Removed, beyond the newest {keep}: {', '.join(made.removed)}.")
        self.stdout.write(f"{KEYS}\nIt holds people's records in the clear: keep it where only few may go, encrypted.")


@transaction.atomic(durable=True)
def _account(made: Made) -> None:
    at = clock.now()
    detail = {"file": made.path.name, "rows": made.manifest.rows, "megabytes": round(made.manifest.size / 1_048_576, 1)}
    beat("backup", at, detail)
    trail.record(None, "backup.made", "backup", made.path.name, at=at, detail=detail)
