"""`manage.py bench`: how fast it is, as ratios to floors that are measured in the same run."""

import json
from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from checklists.speed.figures import FULL, QUICK, measured
from clinic import clock


class Command(BaseCommand):
    """Fills a database of its own (see clinic/run/door.py) and leaves nothing behind."""

    help = "Measure the programme against hand-written floors."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--json", metavar="FILE", help="write the figures there, by name")
        parser.add_argument(
            "--quick", action="store_true", help="less data and fewer runs: whether it works, not how fast"
        )

    def handle(self, *args: Any, json: str | None, quick: bool, **options: Any) -> None:
        figures = {}
        for figure in measured(QUICK if quick else FULL, clock.now(), self._say):
            figures[figure.name] = round(figure.value, 3)
            mark = "  " if figure.kept else " !"
            limit = f"(at most {figure.limit:.2f})"
            self.stdout.write(f"{mark} {figure.name:<18} {figure.value:9.3f}  {limit:<18} {figure.said}")
        if json:
            _write(Path(json), figures)

    def _say(self, text: str) -> None:
        self.stderr.write(f"   {text}")


def _write(path: Path, figures: dict[str, float]) -> None:
    try:
        path.write_text(json.dumps(figures, indent=1) + "\n", encoding="utf-8")
    except OSError as fault:
        raise CommandError(f"The figures cannot be written to {path}: {fault.strerror}.") from None
