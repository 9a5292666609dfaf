"""`manage.py first_lead`: the first account of a new clinic."""

from __future__ import annotations

import getpass
import sys
from argparse import ArgumentParser
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from clinic.errors import Refusal
from clinic.staff.first import make_first_lead

ASKED = {
    "name": "Name of the clinic lead",
    "username": "Sign-in name",
    "email": "E-mail (may be empty)",
    "site": "Name of the site",
    "time_zone": "Time zone of the site",
}
GIVEN = {"time_zone": "Europe/London"}


class Command(BaseCommand):
    """Makes the first clinic lead and their site; refuses when there is a lead already."""

    help = __doc__ or ""

    def add_arguments(self, parser: ArgumentParser) -> None:
        """Whatever is not given is asked for; the password never stands on the command line."""
        for name, words in ASKED.items():
            parser.add_argument(f"--{name.replace('_', '-')}", dest=name, help=words)
        parser.add_argument("--password-from-stdin", action="store_true", help="read the password from standard input")

    def handle(self, *args: Any, **options: Any) -> None:
        """Ask for what is missing, then make them."""
        said = {name: options[name] if options[name] is not None else self._ask(name) for name in ASKED}
        password = sys.stdin.readline().rstrip("\n") if options["password_from_stdin"] else self._ask_password()
        try:
            lead = make_first_lead(password=password, **said)
        except Refusal as refusal:
            raise CommandError("\n".join(dict.fromkeys([refusal.sentence, *refusal.reasons]))) from None
        self.stdout.write(
            f"{lead.name} can sign in as {lead.username} and makes all other accounts, on the Staff page."
        )

    def _ask(self, name: str) -> str:
        if not sys.stdin.isatty():
            return GIVEN.get(name, "")
        usual = GIVEN.get(name, "")
        return input(f"{ASKED[name]}{f' [{usual}]' if usual else ''}: ").strip() or usual

    def _ask_password(self) -> str:
        if not sys.stdin.isatty():
            raise CommandError("There is no terminal to ask on: pass --password-from-stdin and the password.")
        first = getpass.getpass("Password (15 characters or more; several words are strong): ")
        if getpass.getpass("Again: ") != first:
            raise CommandError("The two are not alike. Nothing was made.")
        return first
