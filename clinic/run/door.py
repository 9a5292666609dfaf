"""From the environment into the command that was asked for, with a database where it needs one and none is given."""

import os
import signal
import sys
from collections.abc import Sequence
from contextlib import AbstractContextManager, nullcontext

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
    from clinic.run.places import Unusable

    asks_for_help = command.startswith("-") or bool({"--help", "-h"} & set(argv))
    signal.signal(signal.SIGTERM, lambda number, frame: sys.exit(128 + number))  # so that what was started is stopped
    try:
        with nullcontext() if asks_for_help else _servers_for(command):
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


def _servers_for(command: str) -> AbstractContextManager[None]:
    """Those that the command needs and that are not given. What starts them is loaded only where there are some to
    start: it brings the broker's client and more, and most commands of a clinic are given theirs."""
    given = command in NEED_NO_DATABASE or (os.environ.get("DATABASE_URL") and command not in ON_THEIR_OWN)
    if given:
        return nullcontext()
    from clinic.run.embedded import lent, of_its_own

    return of_its_own() if command in ON_THEIR_OWN else lent(migrated=command not in AS_OWNER)
