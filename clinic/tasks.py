"""What the scheduler and committed news wake in a worker. Tasks hold no rules."""

from clinic import clock
from clinic.audit.models import Origin
from clinic.audit.trail import Came, coming_from, left
from clinic.celery import app
from clinic.ledger.mail import mail_daily
from clinic.ledger.seal import seal
from clinic.ledger.verify.nightly import verify_nightly
from clinic.outbox.drain import drain
from clinic.outbox.purge import purge
from clinic.staff.ended import forget_ended
from clinic.staff.moves import move_whose_day_has_come


@app.task(name="clinic.tasks.drain_outbox", ignore_result=True)
def drain_outbox() -> None:
    """Tell the news that waits."""
    token = coming_from(Came(Origin.WORKER))
    try:
        drain()
    finally:
        left(token)


@app.task(name="clinic.tasks.forget_ended", ignore_result=True)
def forget_ended_sessions() -> None:
    """Clear away what has run out at the door, and news that was told long ago."""
    at = clock.now()
    forget_ended(at)
    purge(at)


@app.task(name="clinic.tasks.move_staff", ignore_result=True)
def move_staff() -> None:
    """Whoever works at another site from today on does."""
    token = coming_from(Came(Origin.WORKER))
    try:
        move_whose_day_has_come(clock.now())
    finally:
        left(token)


@app.task(name="clinic.tasks.seal_ledger", ignore_result=True)
def seal_ledger() -> None:
    """Seal what has been written, and let the checkpoint leave the machine."""
    token = coming_from(Came(Origin.WORKER))
    try:
        if seal(clock.now()).leaves:
            drain()
    finally:
        left(token)


@app.task(name="clinic.tasks.verify_ledger", ignore_result=True)
def verify_ledger() -> None:
    """Verify the ledger, once a night."""
    token = coming_from(Came(Origin.WORKER))
    try:
        verify_nightly(clock.now())
        drain()
    finally:
        left(token)


@app.task(name="clinic.tasks.mail_checkpoint", ignore_result=True)
def mail_checkpoint() -> None:
    """The day's checkpoint to the records officers, with the first run of the day."""
    mail_daily(clock.now())
