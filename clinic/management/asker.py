"""Who asks, for commands that take something out of the house: `--as NAME`."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from django.core.management.base import CommandError, CommandParser

from clinic.staff.models import Staff, name_key


def add_asker(parser: CommandParser) -> None:
    """The option."""
    parser.add_argument("--as", dest="username", metavar="NAME", help="who asks for it, by sign-in name")


def asker(options: Mapping[str, Any]) -> Staff | None:
    """The member of staff who was named; nobody where none was. A name that nobody has: CommandError."""
    if not options["username"]:
        return None
    found = Staff.objects.filter(username_key=name_key(options["username"])).first()
    if found is None:
        raise CommandError(f"Nobody signs in as {options['username']}.")
    return found
