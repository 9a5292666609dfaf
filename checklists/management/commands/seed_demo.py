"""`manage.py seed_demo`: makes the invented clinic, or lives through the days since the last start."""

import os
from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError

from checklists.demo.cast import demo_sign_ins
from checklists.demo.clinic import bring_up_to_date
from clinic import clock
from clinic.ledger.seal import seal
from clinic.run.progress import Progress, say
from clinic.watch.beats import beat
from clinic.watch.look import being_made

SIGN_INS = "sign-ins.txt"  # `demo` shows it


class Command(BaseCommand):
    """Only for the demo: a clinic's own database is left alone."""

    help = "Make the invented clinic, or bring it up to today."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--days", type=int, default=365, help="how many days the clinic looks back on")

    def handle(self, *args: Any, days: int, **options: Any) -> None:
        if not settings.DEMO:
            raise CommandError("This is not the demo: nothing was written. Start it with `manage.py demo`.")
        progress: list[Progress] = []

        def step(name: str, total: int) -> None:
            if not progress:
                progress.append(Progress("Living through the days of Alder Reach", total))
            progress[0].step(name)

        Path(settings.DATA_DIR, SIGN_INS).write_text(_sign_ins(), encoding="utf-8")
        say(_sign_ins())  # whoever waits for the year to be lived through can sign in meanwhile
        with being_made():
            made = bring_up_to_date(step=step, look_back=days, two=(os.cpu_count() or 1) > 1)
            if progress:
                progress[0].end(made)
            _all_is_told()


def _all_is_told() -> None:
    """The simulator has told all news and looked at every deadline itself; what it wrote is sealed in one go."""
    at = clock.now()
    seal(at)
    for name in ("outbox", "deadlines"):
        beat(name, at)


def _sign_ins() -> str:
    lines = [f"  {who.username:<8} {who.name}, {who.role}: {who.tour}".rstrip(": ") for who in demo_sign_ins()]
    how = f"  Sign in as one of these; the password of all: {demo_sign_ins()[0].password}"
    return "\n".join([how, "  The second step asks for a code, and the demo's page says which.", "", *lines, ""])
