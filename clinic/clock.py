"""The one place where the programme asks what time it is.

A service or task reads the clock once, at its top, and hands the instant down; nothing below asks again.

The demo clinic lives through a year in two minutes, and a test may need a certain day: there `at_instant` sets it
for the work in hand (a thread, a task). On a clinic's own server it refuses: nobody back-dates a record there.
"""

from collections.abc import Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from datetime import UTC, date, datetime, time
from time import monotonic
from zoneinfo import ZoneInfo

from django.conf import settings

_set_to: ContextVar[datetime | None] = ContextVar("clock_set_to", default=None)


def now() -> datetime:
    """The present instant, aware, in UTC."""
    return _set_to.get() or datetime.now(tz=UTC)


def ticks() -> float:
    """Seconds by a clock that never goes back, for how long something took or may be kept; no instant of any day."""
    return monotonic()


def is_set() -> bool:
    """Whether the work in hand lives at an instant that was set: nobody waits for its news right now."""
    return _set_to.get() is not None


@contextmanager
def at_instant(instant: datetime) -> Iterator[None]:
    """Let `now` answer `instant` (aware) inside the block; only where settings.CLOCK_CAN_BE_SET (demo and tests)."""
    if not getattr(settings, "CLOCK_CAN_BE_SET", False):
        raise RuntimeError("The clock of a clinic's own server cannot be set.")
    if instant.tzinfo is None:
        raise ValueError("an instant without an offset says nothing")
    token = _set_to.set(instant.astimezone(UTC))
    try:
        yield
    finally:
        _set_to.reset(token)


def local_day(at: datetime, zone: str) -> date:
    """The calendar day of an instant where the clocks of `zone` stand (an IANA name)."""
    return at.astimezone(ZoneInfo(zone)).date()


def instant_of(day: date, wall: time, zone: str) -> datetime:
    """The instant at which the wall clock of `zone` shows this time on this day, in UTC."""
    return datetime.combine(day, wall, tzinfo=ZoneInfo(zone)).astimezone(UTC)


def day_starts(day: date, zone: str) -> datetime:
    """The instant at which a calendar day begins in `zone`, in UTC."""
    return instant_of(day, time(), zone)
