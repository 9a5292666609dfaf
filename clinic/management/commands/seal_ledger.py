"""`manage.py seal_ledger`: seal now what is committed, as the worker does every few seconds."""

from __future__ import annotations

from argparse import ArgumentParser
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from clinic import clock
from clinic.errors import Refusal
from clinic.ledger.keys import NoKeys
from clinic.ledger.note import NotGenuine
from clinic.ledger.resume import resume
from clinic.ledger.seal import seal
from clinic.ledger.trust import Broken


class Command(BaseCommand):
    """Seals, and says what was done."""

    help = "Fold all committed rows into the ledger and sign a checkpoint."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument(
            "--after-restore", metavar="REASON", help="the database is a restored backup: go on from it"
        )

    def handle(self, *args: Any, after_restore: str | None, **options: Any) -> None:
        try:
            done = seal(clock.now()) if after_restore is None else resume(after_restore, clock.now())
        except (Broken, NoKeys, NotGenuine, Refusal) as fault:
            raise CommandError(str(fault)) from fault
        if done.busy:
            raise CommandError("Another sealer is at work: try again in a moment.")
        self.stdout.write(f"{done.leaves} rows sealed; the ledger has {done.size} leaves.")
        if done.refused:
            raise CommandError(f"{done.refused} rows bear no MAC of ours and were not sealed: see the alarms.")
