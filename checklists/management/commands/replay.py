"""`manage.py replay`: what a protocol makes of a history, without a database (SEMANTICS.md §7)."""

import sys
from pathlib import Path
from typing import Any, NoReturn

from django.core.management.base import BaseCommand, CommandParser

from checklists.replay import BAD_INPUT, replay_file


class Command(BaseCommand):
    """Reads two files, prints one JSON line an episode."""

    help = "Replay a history (JSON Lines) under a protocol and print alerts and statuses, one JSON line an episode."
    requires_system_checks = ()

    def create_parser(self, prog_name: str, subcommand: str, **kwargs: Any) -> CommandParser:
        """A bad argument ends with 1: 2 is kept for a protocol that is refused."""
        parser = super().create_parser(prog_name, subcommand, **kwargs)

        def refuse(message: str) -> NoReturn:
            parser.print_usage(sys.stderr)
            parser.exit(BAD_INPUT, f"{message}\n")

        parser.error = refuse  # type: ignore[method-assign]  # argparse has no setting for this status
        return parser

    def add_arguments(self, parser: CommandParser) -> None:
        """The two files and the instant of the report."""
        parser.add_argument("protocol", type=Path, metavar="PROTOCOL.json")
        parser.add_argument("history", type=Path, metavar="HISTORY.jsonl")
        parser.add_argument(
            "--at", metavar="INSTANT", help="report as of this instant, such as 2026-03-02T10:15:00+01:00"
        )

    def handle(self, *args: Any, **options: Any) -> None:
        """Replay; ends with the exit status of SEMANTICS.md §7 where it is not 0."""
        status = replay_file(
            options["protocol"], options["history"], at=options["at"], out=self.stdout, complaints=self.stderr
        )
        if status:
            sys.exit(status)
