"""From the environment into the command that was asked for, with a database where it needs one and none is given."""

import os
import signal
import sys
from collections.abc import Sequence
from contextlib import nullcontext

from clinic.run.lifeline import die_with_parent
from clinic.run.progress import complain

# Commands that never ask the database. Everything else is given one.
NEED_NO_DATABASE = frozenset(
    {"help", "version", "check", "collectstatic", "findstatic", "makemigrations", "makemessages", "compilemessages"}
    | {"diffsettings", "startapp", "spectacular", "replay", "fuzz", "demo", "test", "screenshots", "witness", "words"}
)
# Commands that fill a database of their own and throw it away: a clinic's stays untouched.
ON_THEIR_OWN = frozenset({"bench"})
# Commands that change the schema, and so come to the database as its owner.
AS_OWNER = frozenset({"migrate", "sqlmigrate", "sqlflush", "flush", "squashmigrations", "createcachetable"})


def run(argv: Sequence[str]) -> int:
    """Run a command and return its exit status."""
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "clinic.settings")
    die_with_parent()  # where the demo's parent started us
    command = argv[1] if len(argv) > 1 else "help"
    if command == "demo":
        from clinic.run import demo

        return demo.run(argv[2:])
    if command == "test":
        from clinic.run import checks

        return checks.run(argv[2:])
    return _through_django(command, argv)


def _through_django(command: str, argv: Sequence[str]) -> int:
    from clinic.run.embedded import lent, of_its_own
    from clinic.run.places import Unusable

    asks_for_help = command.startswith("-") or {"--help", "-h"} & set(argv)
    needs = command not in NEED_NO_DATABASE and not asks_for_help and not os.environ.get("DATABASE_URL")
    signal.signal(signal.SIGTERM, lambda number, frame: sys.exit(128 + number))  # so that what was started is stopped
    try:
        alone = command in ON_THEIR_OWN and not asks_for_help
        with of_its_own() if alone else lent(migrated=command not in AS_OWNER) if needs else nullcontext():
            if command in AS_OWNER and os.environ.get("MIGRATE_DATABASE_URL"):
                os.environ["DATABASE_URL"] = os.environ["MIGRATE_DATABASE_URL"]
            from django.core.management import execute_from_command_line

            from clinic.access import standing

            if command not in AS_OWNER:  # the owner is not held back, and comes before there is anything to hold back
                standing.process_stands_as(standing.EVERYBODY)

            execute_from_command_line(list(argv))
    except Unusable as fault:
        complain(fault)
        return 1
    except KeyboardInterrupt:
        complain("Stopped.")
        return 130
    return 0
