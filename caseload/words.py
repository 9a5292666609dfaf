"""Days, ages and names in words, as every page says them. How they look is `clinic.language.dates`'s."""

from collections.abc import Sequence
from datetime import date, datetime

from django.utils.translation import gettext as _

from clinic.language import dates


def day_words(day: date) -> str:
    """25 Nov 2026."""
    return dates.day(day)


def instant_words(at: datetime, zone: str) -> str:
    """25 Nov 2026, 10:46, by the clocks of `zone`."""
    return dates.moment_in(at, zone)


def age_on(born_on: date, day: date) -> int:
    """Completed years."""
    return day.year - born_on.year - ((day.month, day.day) < (born_on.month, born_on.day))


def side_words(side: str) -> str:
    """'left', 'right', 'both sides'; nothing where it is not known yet."""
    return {"left": _("left"), "right": _("right"), "both": _("both sides")}.get(side, side)


def days_words(days: int) -> str:
    """'1 day', '5 days'."""
    return dates.days(days)


def listed(names: Sequence[str]) -> str:
    """'a', 'a and b', 'a, b and c'."""
    return dates.listed(names)


def hours(minutes: int) -> str:
    """'12 h', '12.5 h', with a space that does not break."""
    return dates.hours(minutes)
