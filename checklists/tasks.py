"""What the scheduler wakes in a worker. Tasks hold no rules; each reads the clock once and calls one step."""

from collections.abc import Callable
from datetime import datetime

from caseload.review import reminders
from checklists.alerts import scans
from checklists.keeping import handlers as keeping
from checklists.record import stale
from clinic import clock
from clinic.audit.models import Origin
from clinic.audit.trail import Came, coming_from, left
from clinic.celery import app
from clinic.outbox.drain import drain
from clinic.watch.beats import beat


def _run(step: Callable[[datetime], int]) -> None:
    """Run a step as the worker, and tell at once what it found."""
    token = coming_from(Came(Origin.WORKER))
    try:
        if step(clock.now()):
            drain()
    finally:
        left(token)


@app.task(name="checklists.tasks.scan_deadlines", ignore_result=True)
def scan_deadlines() -> None:
    """Deadlines that went by."""
    _run(scans.scan_deadlines)
    beat("deadlines", clock.now(), every=5)


@app.task(name="checklists.tasks.escalate_alerts", ignore_result=True)
def escalate_alerts() -> None:
    """Alerts that nobody answered."""
    _run(scans.escalate_alerts)


@app.task(name="checklists.tasks.scan_reviews", ignore_result=True)
def scan_reviews() -> None:
    """Reviews that are due."""
    _run(reminders.scan_reviews)


@app.task(name="checklists.tasks.refresh_stale_boards", ignore_result=True)
def refresh_stale_boards() -> None:
    """Sign-offs that lapsed, and what else time changes."""
    _run(stale.refresh_stale_boards)


@app.task(name="checklists.tasks.keep_house", ignore_result=True)
def keep_house() -> None:
    """Archives that nobody took, and the list of erasures."""
    _run(keeping.keep_house)
