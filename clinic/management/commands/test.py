"""Lists `test` among the commands; `clinic.run.checks` does the work, before Django is loaded."""

import argparse
import sys
from typing import Any

from django.core.management.base import BaseCommand

from clinic.run import checks


class Command(BaseCommand):
    """Everything that has to hold before a change goes in."""

    help = "Lint, formatting, types, import contracts, migrations, and all tests."

    def create_parser(self, prog_name: str, subcommand: str, **kwargs: Any) -> Any:
        """Show the words of the real one."""
        return checks.parser()

    def run_from_argv(self, argv: list[str]) -> None:
        """Where it was reached by another way than `manage.py`."""
        sys.exit(checks.run(argv[2:]))

    def handle(self, *args: Any, **options: Any) -> None:
        """Called by name from within: refuse, since it starts processes of its own."""
        raise argparse.ArgumentError(None, "start it as `manage.py test`")
