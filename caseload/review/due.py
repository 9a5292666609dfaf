"""When a planned review is due. Days are the clinic's defaults (common practice, no source); local policy decides."""

from collections.abc import Sequence
from datetime import date, timedelta
from typing import Protocol, TypeVar

from django.utils.translation import gettext as _

from clinic.language import dates

DUE_SOON_DAYS = 7
ESCALATED_DAYS = 7  # overdue by so much, it is put before the lead

AFTER_A_FALL = "fall"

PLANNED, DUE_SOON, DUE, OVERDUE = "planned", "due_soon", "due", "overdue"


class Waiting(Protocol):
    """A review that is planned and not done."""

    kind: str
    due_on: date


Row = TypeVar("Row", bound=Waiting)


def fulfilled(waiting: Sequence[Row], day: date, *, falls: bool, waits: bool) -> list[Row]:
    """Which of these a review of `day` fulfils where nobody says otherwise. `waiting`: the soonest first.

    One that looked at falls fulfils what is planned after a fall: all that was due by then, else the next to come.
    Otherwise what else was due by then; a review of no fall, where none was, also the next that is due soon. What lies
    further ahead stays planned. While a fall `waits`, a review that looked at none leaves what is planned after a fall;
    once every fall is cleared, to look again is a review like another.
    """
    of_falls = [row for row in waiting if row.kind == AFTER_A_FALL] if falls else []
    if of_falls:
        return [row for row in of_falls if row.due_on <= day] or of_falls[:1]
    others = [row for row in waiting if row.kind != AFTER_A_FALL or not (falls or waits)]
    due = [row for row in others if row.due_on <= day]
    soon = [] if falls else [row for row in others if row.due_on <= day + timedelta(days=DUE_SOON_DAYS)]
    return due or soon[:1]


def due_state(due_on: date, today: date) -> str:
    """Overdue from the day after the due day; due on it; due soon within the week before."""
    if due_on < today:
        return OVERDUE
    if due_on == today:
        return DUE
    return DUE_SOON if due_on - today <= timedelta(days=DUE_SOON_DAYS) else PLANNED


def due_words(due_on: date, today: date) -> str:
    """'7 days overdue', 'due today', 'in 5 days'."""
    days = (due_on - today).days
    if days == 0:
        return _("due today")
    said = _("in {days}") if days > 0 else _("{days} overdue")
    return said.format(days=dates.days(abs(days)))
