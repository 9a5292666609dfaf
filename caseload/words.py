"""Days, ages and names in words, as every page says them. Dates carry the month's name, times have 24 hours."""

from collections.abc import Sequence
from datetime import date, datetime
from zoneinfo import ZoneInfo

MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")


def day_words(day: date) -> str:
    """25 Nov 2026."""
    return f"{day.day} {MONTHS[day.month - 1]} {day.year}"


def instant_words(at: datetime, zone: str) -> str:
    """25 Nov 2026, 10:46, by the clocks of `zone`."""
    local = at.astimezone(ZoneInfo(zone))
    return f"{day_words(local.date())}, {local:%H:%M}"


def age_on(born_on: date, day: date) -> int:
    """Completed years."""
    return day.year - born_on.year - ((day.month, day.day) < (born_on.month, born_on.day))


def days_words(days: int) -> str:
    """'1 day', '5 days'."""
    return f"{days} day" if days == 1 else f"{days} days"


def listed(names: Sequence[str]) -> str:
    """'a', 'a and b', 'a, b and c'."""
    return " and ".join([", ".join(names[:-1]), names[-1]]) if len(names) > 1 else "".join(names)


def hours(minutes: int) -> str:
    """'12 h', '12.5 h', with a space that does not break."""
    return f"{round(minutes / 60, 1):g}\u00a0h"
