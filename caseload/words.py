"""Days, ages and names in words, as every page says them. How they look is `clinic.language.dates`'s."""

from collections.abc import Sequence
from datetime import date, datetime, timedelta
from decimal import Decimal
from zoneinfo import ZoneInfo

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from clinic.language import dates
from clinic.staff.roles import KneeFeature

FEATURES = [*KneeFeature.choices, ("resistance", gettext_lazy("adjustable resistance"))]  # what a knee can have

FEW = 5  # so many people are named in a line; more are counted


def may_have(knee: Sequence[str] | None) -> Sequence[str]:
    """What must be reckoned with: what the knee has, and everything where nobody knows it yet."""
    return [key for key, _words in FEATURES] if knee is None else knee


def day_words(day: date) -> str:
    """25 Nov 2026."""
    return dates.day(day)


def instant_words(at: datetime, zone: str) -> str:
    """25 Nov 2026, 10:46, by the clocks of `zone`."""
    return dates.moment_in(at, zone)


def last_words(end: datetime | None, zone: str) -> str:
    """The end of a turn as it was typed: '4 Dec 2026' where it ends with that day, with its time where within one."""
    if end is None:
        return _("further notice")
    local = end.astimezone(ZoneInfo(zone))
    return day_words((local - timedelta(seconds=1)).date()) if _is_midnight(local) else instant_words(end, zone)


def span_words(start: datetime, end: datetime | None, zone: str) -> str:
    """'30 Nov 2026 – 4 Dec 2026', both days included; a single day once."""
    local = start.astimezone(ZoneInfo(zone))
    first = day_words(local.date()) if _is_midnight(local) else instant_words(start, zone)
    last = last_words(end, zone)
    return first if first == last else f"{first} – {last}"


def _is_midnight(local: datetime) -> bool:
    return (local.hour, local.minute, local.second) == (0, 0, 0)


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


def few(names: Sequence[str]) -> str:
    """'a, b and c'; of more than a few the first, and how many more."""
    rest = len(names) - FEW
    return listed([*names[:FEW], _("{n} more").format(n=rest)] if rest > 0 else names)


def may_not_teach(lacks: Sequence[tuple[str, str]], people: int) -> str:
    """'may not teach 2 of 7: Ines Vartholm (free swing) and Bertil Quaymor (lock)': of so many people these names, each
    with what is wanting."""
    names = few([f"{name} ({what})" for name, what in lacks])
    return _("may not teach {n} of {all}: {names}").format(n=len(lacks), all=people, names=names)


def hours(minutes: int) -> str:
    """'12 h', '12.5 h', with a space that does not break."""
    return dates.hours(minutes)


def over_words(minutes: int, capacity: int) -> str:
    """'6.1 h over': the difference of both as they are shown, so that 27.8 h of 21.7 h agrees with it."""
    shown, had = (round(Decimal(str(each / 60)), 1) for each in (minutes, capacity))
    return _("{hours} over").format(hours=hours(int((shown - had) * 60)))
