"""What worker and scheduler would have done in the meantime: the scans of the day, and the news that it brought."""

from __future__ import annotations

from datetime import datetime

from django.test.utils import override_settings

from caseload.review import reminders
from checklists.alerts import scans
from checklists.record import stale
from clinic import clock
from clinic.outbox.drain import drain

TO_NOBODY = "django.core.mail.backends.dummy.EmailBackend"  # the mail of a day that is long past


def evening(at: datetime) -> None:
    """Report what was missed, remind, escalate and tell, as of an instant."""
    with clock.at_instant(at), override_settings(EMAIL_BACKEND=TO_NOBODY):
        scans.scan_deadlines(at)
        scans.escalate_alerts(at)
        reminders.scan_reviews(at)
        stale.refresh_stale_boards(at)
        drain(most=10_000)
