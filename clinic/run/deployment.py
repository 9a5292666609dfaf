"""Before a real server starts: is it set up so that people's records may be in it?

Web, worker and scheduler ask this at their start and refuse to go on, with one sentence for each thing to put right,
all at once. `manage.py check --deploy --database default` says the same without starting anything. The demo, whose
people are invented, is not asked.
"""

from __future__ import annotations

import os
import sys
import time
from collections.abc import Iterable, Sequence
from typing import Any

import django
from django.apps import apps
from django.conf import settings
from django.core import checks
from django.db import OperationalError, connection

from clinic.run import deployed_database, deployed_settings
from clinic.run.finding import Finding
from clinic.run.progress import complain

PATIENCE = 60.0  # seconds to wait for the database; then whoever watches the process starts it again
NOT_SAFE = 78  # EX_CONFIG of sysexits.h: set up wrongly
OWNERS_ADDRESS = "MIGRATE_DATABASE_URL"


def insist() -> None:
    """Go on where all is well; otherwise say everything that is not, and end the process."""
    if settings.DEMO:
        return
    if not apps.ready:
        django.setup()
    found = [*deployed_settings.findings(settings), *_of_this_process(), *_of_the_database()]
    for each in found:
        if each.warning:
            complain(f"Warning: {each}")
    refused = [each for each in found if not each.warning]
    if refused:
        complain(words(refused))
        sys.exit(NOT_SAFE)


def words(refused: Sequence[Finding]) -> str:
    """What is said when a server does not start."""
    count = f"{len(refused)} things have" if len(refused) > 1 else "One thing has"
    lines = "\n".join(f"  {number}. {each}" for number, each in enumerate(refused, 1))
    return f"This server does not start: {count} to be put right first.\n{lines}"


def _of_this_process() -> Iterable[Finding]:
    """What may not be in the environment of a process that serves people."""
    if os.environ.get(OWNERS_ADDRESS):
        yield Finding(
            "owner_address",
            f"{OWNERS_ADDRESS} is set here: only the migration may know the owner of the tables; take it out of the "
            "environment of web, worker and scheduler.",
        )


def _of_the_database() -> list[Finding]:
    if not settings.DATABASES:
        return []  # said already
    until = time.monotonic() + PATIENCE
    while True:
        try:
            return list(deployed_database.findings(connection))
        except OperationalError:
            if time.monotonic() > until:
                return [Finding("no_database", "The database does not answer: see that it runs and is reached.")]
            time.sleep(2)
        finally:
            connection.close()


def _message(found: Finding) -> checks.CheckMessage:
    kind = checks.Warning if found.warning else checks.Error
    return kind(found.sentence, id=f"clinic.{found.code}")


def check_settings(**_: Any) -> list[checks.CheckMessage]:
    """For `manage.py check --deploy`."""
    return [_message(each) for each in deployed_settings.findings(settings)]


def check_database(databases: Sequence[str] | None = None, **_: Any) -> list[checks.CheckMessage]:
    """For `manage.py check --deploy --database default`."""
    return [_message(each) for each in deployed_database.findings(connection)] if databases else []


def register() -> None:
    """Have `manage.py check --deploy` ask too."""
    checks.register(check_settings, checks.Tags.security, deploy=True)
    checks.register(check_database, checks.Tags.database, deploy=True)
