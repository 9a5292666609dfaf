"""The one place where the programme asks what time it is.

A service or task reads the clock once, at its top, and hands the instant down; nothing below asks again.
"""

from datetime import UTC, datetime


def now() -> datetime:
    """The present instant, aware, in UTC."""
    return datetime.now(tz=UTC)
