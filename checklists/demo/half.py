"""The other half of the demo's people, lived through in a process of its own, so that two cores share the year.

Both halves wait for each other at the end of every day: what was recorded later stands later in the trail.
"""

from __future__ import annotations

from collections.abc import Callable
from datetime import date
from multiprocessing import get_context
from multiprocessing.process import BaseProcess
from threading import BrokenBarrierError
from typing import Protocol

PATIENCE = 120.0  # seconds for one day; it takes a fraction of one


class Gate(Protocol):
    """Where both halves meet."""

    def wait(self, timeout: float | None = None) -> int:
        """Wait for the other half."""

    def abort(self) -> None:
        """Tell the other half that this one has failed."""


class OtherHalf:
    """A second process that lives through the same days with the other people."""

    def __init__(self, day_zero: date, span: range, *, forgiving: bool) -> None:
        context = get_context("spawn")
        self._gate: Gate = context.Barrier(2)
        target = (day_zero, span, forgiving, self._gate)
        self._process: BaseProcess = context.Process(target=_live, args=target, daemon=True)
        self._process.start()

    def meet(self) -> None:
        """Wait until the other half has come as far. Its failure is raised here."""
        try:
            self._gate.wait(PATIENCE)
        except BrokenBarrierError:
            raise RuntimeError("The other half of the demo's people failed; what went wrong stands above.") from None

    def give_up(self) -> None:
        """This half has failed."""
        self._gate.abort()

    def end(self) -> None:
        """Wait until the process has ended."""
        self._process.join(PATIENCE)


def _live(day_zero: date, span: range, forgiving: bool, gate: Gate) -> None:
    """What the second process does."""
    import django

    django.setup()
    from checklists.demo.clinic import live_through
    from clinic.access import standing

    standing.process_stands_as(standing.EVERYBODY)

    meet: Callable[[], object] = lambda: gate.wait(PATIENCE)  # noqa: E731 - a choice of two
    try:
        live_through(day_zero, span, half=1, forgiving=forgiving, meet=meet)
    except BaseException:
        gate.abort()
        raise
