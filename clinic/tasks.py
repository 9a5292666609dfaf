"""What the scheduler and committed news wake in a worker. Tasks hold no rules."""

from celery import shared_task

from clinic.audit.models import Origin
from clinic.audit.trail import Came, coming_from, left
from clinic.outbox.drain import drain


@shared_task(name="clinic.tasks.drain_outbox", ignore_result=True)
def drain_outbox() -> None:
    """Tell the news that waits."""
    token = coming_from(Came(Origin.WORKER))
    try:
        drain()
    finally:
        left(token)
