"""Waking a worker as soon as news is committed. Only a convenience: the scheduler wakes one every few seconds
anyway."""

import logging

from django.db import transaction

from clinic import clock
from clinic.celery import app

log = logging.getLogger(__name__)
DRAIN = "clinic.tasks.drain_outbox"


def wake_after_commit() -> None:
    """Ask for the outbox to be emptied once the transaction in hand is committed; asked twice, it is done once."""
    if clock.is_set():  # a simulated day: whoever simulates it empties the outbox too
        return
    connection = transaction.get_connection()
    if not any(hook[1] is _wake for hook in connection.run_on_commit):
        transaction.on_commit(_wake, robust=True)


def _wake() -> None:
    """A broker that is down must not turn what is committed into an error page."""
    try:
        app.send_task(DRAIN, ignore_result=True)
    except Exception as fault:
        log.warning("no worker could be woken (%s); the scheduler will do it", type(fault).__name__)
