"""Instants, dates and durations as texts, read without a clock or a time zone database.

An instant becomes whole microseconds since 1970-01-01T00:00:00Z; the date in it, as written, becomes a day number
(`datetime.date.toordinal`, carried on to the year 0000). Both are exact integers, so ties are ties.
"""

import re
from datetime import UTC, date, datetime, timedelta

SECOND = 1_000_000
DAY = 86_400 * SECOND
EPOCH_DAY = date(1970, 1, 1).toordinal()
_EPOCH = datetime(1970, 1, 1, tzinfo=UTC)
_DATE = re.compile(r"([0-9]{4})-([0-9]{2})-([0-9]{2})")
_CLOCK = re.compile(r"T([0-9]{2}):([0-9]{2}):([0-9]{2})")
_TAIL = re.compile(r"(?:\.([0-9]{1,6}))?(?:Z|([+-])([0-9]{2}):([0-9]{2}))")
_DURATION = re.compile(r"P(?:([0-9]+)W|(?:([0-9]+)D)?(T(?:([0-9]+)H)?(?:([0-9]+)M)?(?:([0-9]+)S)?)?)")
_KEPT = 20_000  # texts remembered for each part; a record that has more of them is only read a little slower

_days: dict[str, int] = {}
_clocks: dict[str, int] = {}
_tails: dict[str, int] = {}


def read(text: str) -> tuple[int, int]:
    """Microseconds, and day number as written, of an RFC 3339 instant (SEMANTICS.md §1); ValueError says why not."""
    try:
        day = _days[text[:10]]
        return (day - EPOCH_DAY) * DAY + _clocks[text[10:19]] + _tails[text[19:]], day
    except KeyError:
        return _read_parts(text)


def read_day(text: str) -> int:
    """The day number of a date `YYYY-MM-DD`; ValueError says why not."""
    found = _DATE.fullmatch(text)
    if not found:
        raise ValueError("is not a date like 2026-03-02")
    year, month, day = (int(part) for part in found.groups())
    try:
        if year == 0:  # RFC 3339 knows it, datetime does not; the calendar repeats every 400 years (146,097 days)
            return date(400, month, day).toordinal() - 146_097
        return date(year, month, day).toordinal()
    except ValueError:
        raise ValueError("is not a day of the calendar") from None


def read_duration(text: str) -> int:
    """The microseconds of an ISO 8601 duration of whole weeks, or whole days, hours, minutes and seconds."""
    found = _DURATION.fullmatch(text)
    if not found or text == "P" or found.group(3) == "T":
        raise ValueError("is not a duration like P28D or PT30M")
    weeks, days, _, hours, minutes, seconds = (int(part) if part and part[0] != "T" else 0 for part in found.groups())
    return ((weeks * 7 + days) * 86_400 + hours * 3_600 + minutes * 60 + seconds) * SECOND


def of(moment: datetime | str) -> tuple[int, int, str]:
    """Microseconds, day number as written, and text of a moment given as an aware datetime or as a text."""
    if isinstance(moment, str):
        return (*read(moment), moment)
    if moment.tzinfo is None:
        raise ValueError("a moment without an offset is not an instant")
    text = moment.isoformat()
    if moment.utcoffset() == timedelta(0):
        text = text[:-6] + "Z"
    return (moment - _EPOCH) // timedelta(microseconds=1), moment.date().toordinal(), text


def at_microseconds(value: int) -> datetime:
    """The aware UTC datetime of a number of microseconds (years 1 to 9999)."""
    return _EPOCH + timedelta(microseconds=value)


def _read_parts(text: str) -> tuple[int, int]:
    clock, tail = _CLOCK.fullmatch(text[10:19]), _TAIL.fullmatch(text[19:])
    if not clock or not tail:
        raise ValueError("is not an instant like 2026-03-02T10:15:00+01:00")
    day = read_day(text[:10])
    hour, minute, second = (int(part) for part in clock.groups())
    if hour > 23 or minute > 59 or second > 59:
        raise ValueError("is not a time of the day")
    fraction, sign, hours, minutes = tail.groups()
    ahead = int(hours or 0) * 60 + int(minutes or 0)
    if hours and (int(hours) > 23 or int(minutes) > 59):
        raise ValueError("has an offset that no clock shows")
    time = ((hour * 60 + minute) * 60 + second) * SECOND
    rest = int((fraction or "").ljust(6, "0")) + (ahead if sign == "-" else -ahead) * 60 * SECOND
    _remember(_days, text[:10], day)
    _remember(_clocks, text[10:19], time)
    _remember(_tails, text[19:], rest)
    return (day - EPOCH_DAY) * DAY + time + rest, day


def _remember(memory: dict[str, int], text: str, value: int) -> None:
    if len(memory) >= _KEPT and memory is not _clocks:  # there are only 86,400 times of the day
        memory.clear()
    memory[text] = value
