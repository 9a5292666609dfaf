"""`manage.py replay`: what a protocol makes of a history, without a database (SEMANTICS.md §7)."""

import gc
import sys
from pathlib import Path
from typing import Any, NoReturn

from django.core.management.base import BaseCommand, CommandParser

from checklists.domain import ProtocolRefused, instant, load_protocol
from checklists.domain.replay import as_line, replay_lines

BAD_INPUT, PROTOCOL_REFUSED = 1, 2


class Command(BaseCommand):
    """Thin: reads two files, prints one JSON line an episode."""

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
        """Replay; ends with the status of SEMANTICS.md §7 where it is not 0."""
        at = options["at"]
        try:
            if at is not None:
                instant.read(at)
            source = options["protocol"].read_bytes()
            with options["history"].open("rb") as history:
                status = self._replay(source, history, at)
        except OSError as fault:
            self._end(BAD_INPUT, f"{fault.filename}: {fault.strerror}")
        except ValueError as fault:
            self._end(BAD_INPUT, f"--at {at!r} {fault}")
        if status:
            sys.exit(status)

    def _replay(self, source: bytes, history: Any, at: str | None) -> int:
        try:
            protocol = load_protocol(source)
        except ProtocolRefused as refused:
            self._end(PROTOCOL_REFUSED, f"protocol refused at {refused}")
        bad_lines = 0

        def report_line(number: int, why: str) -> None:
            nonlocal bad_lines
            bad_lines += 1
            self.stderr.write(f"line {number} {why}")

        gc.disable()  # nothing here is cyclic, and looking for cycles among a million entries takes time
        try:
            for report in replay_lines(protocol, history, at, report_line=report_line):
                self.stdout.write(as_line(report).decode())
        finally:
            gc.enable()
        return BAD_INPUT if bad_lines else 0

    def _end(self, status: int, message: str) -> NoReturn:
        self.stderr.write(message)
        sys.exit(status)
