"""`manage.py check_identity USERNAME --how "…"`: whoever keeps the server says that an account is somebody's own."""

from __future__ import annotations

from argparse import ArgumentParser
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from clinic.errors import Refusal
from clinic.staff.identity import check_by_keeper


class Command(BaseCommand):
    """For a new clinic, whose first people nobody there can check, and where everybody else let them in."""

    help = __doc__ or ""

    def add_arguments(self, parser: ArgumentParser) -> None:
        """Whose account, and how it was checked."""
        parser.add_argument("username", help="the sign-in name")
        parser.add_argument("--how", required=True, help="which paper was seen, or who has known them for how long")

    def handle(self, *args: Any, **options: Any) -> None:
        """Keep it."""
        try:
            staff = check_by_keeper(username=options["username"], how=options["how"])
        except Refusal as refusal:
            raise CommandError(refusal.sentence) from None
        self.stdout.write(f"Kept: {staff.name} may sign what their papers allow.")
