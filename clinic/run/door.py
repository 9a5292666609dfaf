"""From the environment into Django: runs the command that was asked for."""

import os
from collections.abc import Sequence


def run(argv: Sequence[str]) -> int:
    """Run a management command and return its exit status."""
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "clinic.settings")
    from django.core.management import execute_from_command_line

    execute_from_command_line(list(argv))
    return 0
