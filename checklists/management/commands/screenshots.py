"""`manage.py screenshots`: take the pictures of README.md's tour anew from the running demo."""

from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from clinic.run.claim import Claim
from clinic.run.places import ROOT, data_folder


class Command(BaseCommand):
    """Needs the demo to be running, and a Chromium (the test command installs one)."""

    help = "Take the pictures of README.md's tour anew. Start the demo first."
    requires_system_checks = ()

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--folder", default=str(ROOT / "tests" / "tour"))

    def handle(self, *args: Any, **options: Any) -> None:
        from checklists.demo.tour import take

        running = Claim(data_folder()).running()
        if running is None:
            raise CommandError("Start the demo first: python3 manage.py demo")
        for name in take(running["address"], Path(options["folder"])):
            self.stdout.write(f"  {name}")
