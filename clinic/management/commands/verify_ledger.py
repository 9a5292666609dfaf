"""`manage.py verify_ledger`: does the ledger hold?"""

from __future__ import annotations

from argparse import ArgumentParser
from pathlib import Path
from typing import Any
from uuid import UUID

from django.core.management.base import BaseCommand, CommandError
from django.db import connection

from clinic.ledger import keys, note
from clinic.ledger.keys import NoKeys
from clinic.ledger.models import LedgerLeaf
from clinic.ledger.note import NotGenuine
from clinic.ledger.verify.findings import Report
from clinic.ledger.verify.run import NothingToVerify, verify, verify_episode
from clinic.run.progress import Progress, say


class Command(BaseCommand):
    """Verifies, and says what was found: exit status 0 where all holds, 1 where something does not."""

    help = "Compare every row with what was sealed and signed, and with what witnesses know."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--episode", metavar="REFERENCE", help="only the rows of this episode")
        parser.add_argument(
            "--since", metavar="SIZE", help="only what was sealed after a checkpoint: its number of leaves, or its file"
        )
        parser.add_argument(
            "--witness", action="append", metavar="PLACE", help="an address or a file; several times for several"
        )

    def handle(self, *args: Any, **options: Any) -> None:
        since = _size(options["since"])
        progress = Progress("Verifying", LedgerLeaf.objects.count() * 2)
        try:
            if options["episode"]:
                report = verify_episode(_episode(options["episode"]), tick=progress.advance)
            else:
                report = verify(since=since, witnesses=options["witness"], tick=progress.advance)
        except (NoKeys, NotGenuine, NothingToVerify) as fault:
            raise CommandError(str(fault)) from fault
        progress.end("done")
        _tell(report)
        if not report.holds:
            raise CommandError("The ledger does not hold. The clinic's guide says what to do: clinic/guide/GUIDE.md")


def _tell(report: Report) -> None:
    for line in report.sentences():
        say(line)
    for line in report.unseen:
        say(f"Not looked at: {line}")
    say(
        f"{report.rows:,} rows, {report.size:,} leaves, {report.checkpoints:,} checkpoints here and {report.witnesses} "
        f"places elsewhere were looked at; {report.unsealed:,} rows wait for the sealer."
    )
    say("Everything that was looked at holds." if report.holds else report.still_holds())


def _size(said: str | None) -> int:
    """A number of leaves, or the note of a checkpoint in a file."""
    if said is None or said.isdecimal():
        return int(said or 0)
    try:
        return note.opened(Path(said).read_text(encoding="utf-8"), keys.ring()).size
    except (OSError, UnicodeDecodeError) as fault:
        raise CommandError(f"--since takes a number of leaves or the file of a checkpoint: {fault}") from fault


def _episode(said: str) -> UUID:
    """The id of an episode; its table is another app's, so it is asked by name."""
    with connection.cursor() as cursor:
        cursor.execute("SELECT id FROM caseload_episode WHERE reference = %s OR id::text = %s", [said, said.lower()])
        row = cursor.fetchone()
    if row is None:
        raise CommandError(f"There is no episode '{said}'. Give its reference, such as E26-0001.")
    return UUID(str(row[0]))
