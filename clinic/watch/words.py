"""Ages and sizes as a person says them."""

from __future__ import annotations

_UNITS = ((86_400, "day"), (3_600, "hour"), (60, "minute"), (1, "second"))


def age(seconds: float) -> str:
    """An age in its greatest unit that counts at least two, rounded down: 90 seconds, 3 hours, 2 days."""
    whole = max(int(seconds), 0)
    size, unit = next(((size, unit) for size, unit in _UNITS if whole >= 2 * size), _UNITS[-1])
    many = whole // size
    return f"{many} {unit}" if many == 1 else f"{many} {unit}s"


def room(megabytes: float) -> str:
    """Room on a disk: 812 MB, 3.4 GB."""
    return f"{megabytes:.0f} MB" if megabytes < 1024 else f"{megabytes / 1024:.1f} GB"
