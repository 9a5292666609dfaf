"""`manage.py fuzz`: changed examples against the core and its parsers; needs no database."""

import sys
from functools import partial
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser

from api.fuzz import running, seeds
from api.fuzz.targets import Targets

SHOWN = 5
EVERY_SECONDS = 5.0


class Command(BaseCommand):
    """Thin: makes the targets, shows how far it is, keeps what failed."""

    help = "Try many changed examples on the core and its parsers. Whatever is not refused in words is a fault."
    requires_system_checks = ()

    def add_arguments(self, parser: CommandParser) -> None:
        """How many, from which seed, or one by itself."""
        parser.add_argument("--inputs", type=int, default=20_000, metavar="N", help="how many (20,000)")
        parser.add_argument("--seed", type=int, default=1, metavar="S", help="other seeds, other inputs (1)")
        parser.add_argument("--only", type=int, metavar="NUMBER", help="one input by its number, with all it says")
        parser.add_argument("--save", type=Path, metavar="FOLDER", help="where failed inputs are written to")

    def handle(self, *args: Any, **options: Any) -> None:
        """Run; ends with 1 where something failed."""
        only = options["only"]
        numbers = range(options["inputs"]) if only is None else range(only, only + 1)
        try:
            targets = Targets(seeds.load()).all()
        except seeds.NoSeeds as fault:
            raise CommandError(str(fault)) from None
        self._total, self._told_at = len(numbers), 0.0
        keep = partial(self._keep, folder=options["save"])
        outcome = running.run(targets, numbers, options["seed"], told=self._progress, failed=keep)
        for failure in outcome.failures[: SHOWN if only is None else 1]:
            self.stdout.write(f"\ninput {failure.number} ({failure.target}): {failure.fault}\n{failure.made[:600]}")
            self.stdout.write(failure.way)
        self.stdout.write(self._summary(outcome))
        if outcome.failures:
            sys.exit(1)

    def _progress(self, number: int, outcome: running.Outcome) -> None:
        if outcome.seconds - self._told_at >= EVERY_SECONDS:
            self._told_at = outcome.seconds
            rate = number / outcome.seconds
            self.stderr.write(
                f"{number:,} of {self._total:,} inputs, {len(outcome.failures)} failed; "
                f"{rate:,.0f} a second, {(self._total - number) / rate:,.0f} s to go …"
            )

    @staticmethod
    def _keep(failure: running.Failure, folder: Path | None) -> None:
        if folder is not None:
            folder.mkdir(parents=True, exist_ok=True)
            text = f"{failure.fault}\n\n{failure.way}\n\n{failure.made}\n"
            (folder / f"{failure.target}-{failure.number}.txt").write_text(text, encoding="utf-8", errors="replace")

    @staticmethod
    def _summary(outcome: running.Outcome) -> str:
        parts = [
            f"{name} {count:,} ({outcome.refused[name]:,} refused)" for name, count in sorted(outcome.tried.items())
        ]
        return (
            f"{outcome.inputs:,} inputs in {outcome.seconds:.0f} s: {len(outcome.failures)} failed. "
            f"Tried: {', '.join(parts)}."
        )
