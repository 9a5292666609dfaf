"""What a PIN may be: six digits or more, and none of those that are tried first. Pure.

Six digits at least, refused when trivial: common practice, no source. It opens recording only, on a device that has to
be held in the hand, and five wrong ones lock it: that, and not its length, is what keeps it.
"""

from __future__ import annotations

from datetime import date
from itertools import pairwise

from django.utils.translation import gettext as _

FEWEST, MOST = 6, 12
FEWEST_DIFFERENT = 4
_CENTURIES = (1900, 2000)


def fault_of(pin: str) -> str:
    """Why this cannot be a PIN, as a sentence; nothing where it can."""
    if not pin.isascii() or not pin.isdigit():
        return _("A PIN is made of digits only.")
    if not FEWEST <= len(pin) <= MOST:
        return _("A PIN has {fewest} to {most} digits.").format(fewest=FEWEST, most=MOST)
    if len(set(pin)) < FEWEST_DIFFERENT:
        return _("Take at least {fewest_different} different digits.").format(fewest_different=FEWEST_DIFFERENT)
    if _is_run(pin):
        return _("Digits that count up or down are tried first. Take others.")
    if _is_repeat(pin):
        return _("That is one piece said again. Take others.")
    if _is_date(pin):
        return _("That reads as a date, and dates are tried first. Take others.")
    return ""


def _is_run(pin: str) -> bool:
    """Whether every digit is the next one (or every one the one before), round the corner from 9 to 0 too."""
    steps = {(int(after) - int(before)) % 10 for before, after in pairwise(pin)}
    return len(steps) == 1


def _is_repeat(pin: str) -> bool:
    """Whether the whole is a shorter piece, repeated."""
    return pin in (pin + pin)[1:-1]


def _is_date(pin: str) -> bool:
    """Whether it is a day of some year, in any of the orders that people write, with two digits of the year or four."""
    if len(pin) == 6:
        pairs = (pin[:2], pin[2:4], pin[4:])
        return any(
            _exists(int(pairs[y]) + century, int(pairs[m]), int(pairs[d]))
            for century in _CENTURIES
            for d, m, y in ((0, 1, 2), (1, 0, 2), (2, 1, 0))
        )
    if len(pin) == 8:
        front, back = int(pin[:4]), int(pin[4:])
        orders = ((back, pin[2:4], pin[:2]), (back, pin[:2], pin[2:4]), (front, pin[4:6], pin[6:]))
        return any(1900 <= year < 2100 and _exists(year, int(month), int(day)) for year, month, day in orders)
    return False


def _exists(year: int, month: int, day: int) -> bool:
    try:
        date(year, month, day)
    except ValueError:
        return False
    return True
