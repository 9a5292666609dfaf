"""Days, times, spans and lists as the reader's language writes them: the one home of how they look.

A day always bears its month by name, so that nobody reads it the wrong way round; a time has 24 hours. How a
language writes them its catalogue says: the formats below are texts like any other (letters of Django's `date` filter).
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, datetime
from decimal import Decimal
from zoneinfo import ZoneInfo

from django.utils.dateformat import format as formatted
from django.utils.formats import number_format
from django.utils.translation import gettext as _
from django.utils.translation import ngettext, pgettext

NO_BREAK = "\u00a0"


def day(value: date) -> str:
    """25 Nov 2026."""
    return formatted(value, pgettext("format of a day", "j M Y"))


def day_of_year(value: date) -> str:
    """25 Nov, where the year is plain."""
    return formatted(value, pgettext("format of a day without its year", "j M"))


def clock(value: datetime) -> str:
    """14:05, by the clocks of the instant's own zone."""
    return f"{value:%H:%M}"


def moment(value: datetime) -> str:
    """25 Nov 2026, 14:05, by the clocks of the instant's own zone."""
    return _("{day}, {time}").format(day=day(value), time=clock(value))


def moment_in(value: datetime, zone: str) -> str:
    """The same by the clocks of `zone`."""
    return moment(value.astimezone(ZoneInfo(zone)))


def moment_of_year(value: datetime) -> str:
    """25 Nov, 14:05, where the year is plain."""
    return _("{day}, {time}").format(day=day_of_year(value), time=clock(value))


def days(number: int) -> str:
    """'1 day', '5 days'."""
    return ngettext("{n} day", "{n} days", number).format(n=number)


def minutes(number: int) -> str:
    """'1 minute', '5 minutes'."""
    return ngettext("{n} minute", "{n} minutes", number).format(n=number)


def seconds(number: int) -> str:
    """'1 second', '5 seconds'."""
    return ngettext("{n} second", "{n} seconds", number).format(n=number)


def number(value: float | Decimal, places: int | None = None) -> str:
    """A number with the language's own sign for the decimals, as many as it has, or `places`."""
    exact = value if isinstance(value, float) else Decimal(value).normalize()  # 51.000000 was entered as 51
    shown = exact if places is None else round(Decimal(str(value)), places).normalize()
    return str(number_format(f"{shown:.10g}" if isinstance(shown, float) else f"{shown:f}", use_l10n=True))


def age(spent: float) -> str:
    """Seconds in their greatest unit that counts at least two, rounded down: 90 seconds, 3 hours, 2 days."""
    whole = max(int(spent), 0)
    if whole >= 2 * 86_400:
        return days(whole // 86_400)
    if whole >= 2 * 3_600:
        return ngettext("{n} hour", "{n} hours", whole // 3_600).format(n=whole // 3_600)
    return minutes(whole // 60) if whole >= 120 else seconds(whole)


def hours(spent: int) -> str:
    """Minutes as '12 h', '12.5 h', with a space that does not break."""
    return _("{n} h").replace(" ", NO_BREAK).format(n=number(spent / 60, 1))


def listed(names: Sequence[str]) -> str:
    """'a', 'a and b', 'a, b and c'."""
    if len(names) < 2:
        return "".join(names)
    # Translators: the last two things of a list; Spanish says "e" before a word that begins with the sound "i"
    return _("{several} and {last}").format(several=", ".join(names[:-1]), last=names[-1])
