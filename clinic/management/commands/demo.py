"""Lists `demo` among the commands; `clinic.run.demo` does the work, before Django is loaded."""

import argparse
import sys
from typing import Any

from django.core.management.base import BaseCommand

from clinic.run import demo


class Command(BaseCommand):
    """The whole clinic, invented, on one machine."""

    help = "Start the demo clinic: PostgreSQL, Valkey, web, worker and scheduler. Ctrl-C stops everything."

    def create_parser(self, prog_name: str, subcommand: str, **kwargs: Any) -> Any:
        """Show the words of the real one."""
        return demo.parser()

    def run_from_argv(self, argv: list[str]) -> None:
        """Where it was reached by another way than `manage.py`."""
        sys.exit(demo.run(argv[2:]))

    def handle(self, *args: Any, **options: Any) -> None:
        """Called by name from within: refuse, since it must be the parent of all processes."""
        raise argparse.ArgumentError(None, "start it as `manage.py demo`")
