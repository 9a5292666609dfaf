"""Ages and sizes as a person says them."""

from __future__ import annotations

from clinic.language import dates

__all__ = ["age", "room"]
age = dates.age


def room(megabytes: float) -> str:
    """Room on a disk: 812 MB, 3.4 GB."""
    return f"{megabytes:.0f} MB" if megabytes < 1024 else f"{dates.number(megabytes / 1024, 1)} GB"
