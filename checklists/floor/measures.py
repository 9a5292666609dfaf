"""How a measure is written, on every page and by every tool: its name, its number as the reader's language writes it,
its unit."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import ROUND_HALF_UP, Decimal

from django.utils.translation import gettext

from checklists.floor.words import MEASURES
from clinic.language import dates

# What the Floor has a tool for (pads.js), in the unit that the tool takes it in; others are written without one.
UNIT = {"load_share": "%", "held_s": "s", "steps": "1", "step_ratio": "1", "foot_contact": "%"}
SUFFIX = {"%": " %", "s": " s", "1": ""}
PLACES = {"%": 1, "s": 1}  # decimals that say something; of a ratio two
MOST_PLACES = 2
HUGE = 1e12  # no measure, though the record may hold one: it is written as it is


def suffix_of(unit: str) -> str:
    """A unit as it stands behind a number."""
    return SUFFIX.get(unit, f" {unit}" if unit else "")


def places_of(unit: str) -> int:
    """How many decimals a number in this unit has at most."""
    return PLACES.get(unit, MOST_PLACES)


def measured(key: str, value: float) -> str:
    """'Load share 48.1 %': one measure of an attempt, as it was taken."""
    unit = UNIT.get(key, "")
    return f"{MEASURES.get(key, key)} {dates.number(_rounded(float(value), places_of(unit)))}{suffix_of(unit)}"


def _rounded(value: float, places: int) -> Decimal:
    """As the script's formatter rounds: by the decimals as they are written, half away from nothing."""
    exact = Decimal(str(value))
    return exact.quantize(Decimal(1).scaleb(-places), ROUND_HALF_UP) if abs(value) < HUGE else exact


def asked(key: str, bounds: Sequence[float | None]) -> str:
    """'Load share: at least 45 %': what a criterion asks of one measure."""
    return f"{MEASURES.get(key, key)}: {range_words(bounds, suffix_of(UNIT.get(key, '')))}"


def range_words(bounds: Sequence[float | None], suffix: str) -> str:
    """'40–60 %', 'at least 10 s', 'at most 50 %'; the bounds as they stand in the protocol."""
    low, high = (None if bound is None else dates.number(bound) for bound in bounds)
    if low is None:
        return gettext("at most {number}").format(number=f"{high}{suffix}") if high is not None else ""
    if high is None:
        return gettext("at least {number}").format(number=f"{low}{suffix}")
    return f"{low}–{high}{suffix}"
