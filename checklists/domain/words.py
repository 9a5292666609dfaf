"""Words for people: supports, help, dates and numbers as they stand in sentences."""

from datetime import UTC
from functools import lru_cache

from . import instant

_SAID = {
    "bars_both": "with both hands on the bars",
    "bars_one": "with one hand on the bars",
    "contralateral_rail": "on the contralateral rail",
    "ipsilateral_rail": "on the ipsilateral rail",
    "both_rails": "on both rails",
    "one_rail": "on one rail",
    "stick": "with a stick",
    "none": "without support",
    "hands_on": "with hands on",
    "stand_by": "with somebody standing by",
    "watching": "with somebody watching",
    "alone": "alone",
}
_NUMBERS = ("no", "one", "two", "three", "four", "five", "six")


def said(word: str) -> str:
    """A support or a help as part of a sentence; a word of the clinic's own stands as it is."""
    return _SAID.get(word, word.replace("_", " "))


def number(value: int) -> str:
    """A small number in letters."""
    return _NUMBERS[value] if value < len(_NUMBERS) else str(value)


def days(value: int) -> str:
    """'one more day', 'two more days'."""
    return f"{number(value)} more day{'' if value == 1 else 's'}"


MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")


def day_of(at: str) -> str:
    """The date of an instant, as written, the month by name: 3 Mar 2026."""
    return f"{int(at[8:10])} {MONTHS[int(at[5:7]) - 1]} {at[:4]}"


@lru_cache(maxsize=10_000)
def utc(value: int) -> str:
    """An instant in microseconds as a text in UTC; the last instant of the calendar where it lies beyond."""
    try:
        return instant.at_microseconds(value).astimezone(UTC).isoformat().replace("+00:00", "Z")
    except OverflowError:
        return "9999-12-31T23:59:59Z"


def listed(words: list[str]) -> str:
    """'a, b and c'."""
    return " and ".join([", ".join(words[:-1]), words[-1]] if len(words) > 1 else words)
