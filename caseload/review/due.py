"""When a planned review is due. Days are the clinic's defaults (common practice, no source); local policy decides."""

from datetime import date, timedelta

from django.utils.translation import gettext as _

from clinic.language import dates

DUE_SOON_DAYS = 7
ESCALATED_DAYS = 7  # overdue by so much, it is put before the lead

PLANNED, DUE_SOON, DUE, OVERDUE = "planned", "due_soon", "due", "overdue"


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
