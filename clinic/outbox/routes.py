"""Which handlers hear which news. Handlers live in the app whose facts they need and are named here by string, as in
clinic/urls.py.

A handler is called with the payload and the present instant, outside any transaction, at least once: it must be
idempotent.
"""

from collections.abc import Callable, Mapping
from datetime import datetime
from typing import Any

from django.utils.module_loading import import_string

Handler = Callable[[Mapping[str, Any], datetime], None]

ROUTES: Mapping[str, tuple[str, ...]] = {
    "alert.raised": ("checklists.alerts.handlers.tell_raised",),
    "alert.struck_away": ("checklists.alerts.handlers.tell_struck_away",),
    "alert.escalated": ("checklists.alerts.handlers.tell_escalated",),
    "entry.held": ("checklists.alerts.handlers.tell_held",),
    "entry.decided": ("checklists.alerts.handlers.take_back_held",),
    "review.reminded": ("checklists.alerts.handlers.tell_reminded",),
    "request.asked": ("checklists.alerts.handlers.tell_asked",),
    "request.answered": ("checklists.alerts.handlers.tell_answered",),
    "assignment.made": ("checklists.alerts.handlers.tell_given",),
    "cover.arranged": ("checklists.alerts.handlers.tell_given",),
    "episode.left": ("checklists.alerts.handlers.tell_left",),
    "episode.transferred": ("checklists.alerts.handlers.tell_moved",),
    "alarm.raised": ("checklists.alerts.handlers.tell_alarm",),
    "emergency.opened": ("checklists.alerts.handlers.tell_emergency",),
    "judgement.doubted": ("checklists.judged.services.judge_again",),
    "correction.asked": ("checklists.keeping.handlers.tell_asked",),
    "archive.asked": ("checklists.keeping.handlers.make_archive",),
    "checkpoint.made": ("clinic.ledger.publish.send_on",),
    "checkpoint.witnessed": ("clinic.ledger.publish.tell_witness",),
    "checkpoint.stamped": ("clinic.ledger.publish.stamp",),
    "ring.changed": ("clinic.ledger.publish.send_ring",),
    "checkpoint.mailed": ("clinic.ledger.mail.send",),
    "notice.made": ("checklists.alerts.handlers.send_mail_of",),
    "sign_in.changed": ("clinic.staff.factors.news.send_mail",),
}


def handlers_of(topic: str) -> list[Handler]:
    """The handlers of a topic. Nobody hears it: LookupError, so that the row stays and is seen rather than lost."""
    if topic not in ROUTES:
        raise LookupError(f"nobody handles {topic}")
    return [import_string(path) for path in ROUTES[topic]]
