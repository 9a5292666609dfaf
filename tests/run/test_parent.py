"""The parent of the server processes, told to stop."""

from __future__ import annotations

import io
import os
import signal
import sys
from collections.abc import Iterator

import pytest

from clinic.run.parent import Parent
from clinic.run.progress import say


class StoppedWhileWritten(io.RawIOBase):
    """A terminal on which Ctrl-C is pressed while the first line is being written."""

    def __init__(self) -> None:
        super().__init__()
        self.text = b""

    def writable(self) -> bool:
        return True

    def write(self, given: object) -> int:
        first, taken = not self.text, bytes(given)  # type: ignore[call-overload]  # a buffer, which this version's types do not name
        self.text += taken
        if first:
            os.kill(os.getpid(), signal.SIGINT)
        return len(taken)


@pytest.fixture
def told() -> Iterator[None]:
    """Whoever listened for signals before listens again afterwards."""
    before = {number: signal.getsignal(number) for number in (signal.SIGINT, signal.SIGTERM, signal.SIGHUP)}
    yield
    for number, handler in before.items():
        signal.signal(number, handler)


@pytest.mark.usefixtures("told")
def test_told_to_stop_in_the_middle_of_a_line_it_stops_in_order(monkeypatch: pytest.MonkeyPatch) -> None:
    terminal, parent = StoppedWhileWritten(), Parent()
    monkeypatch.setattr(sys, "stdout", io.TextIOWrapper(io.BufferedWriter(terminal), encoding="utf-8"))
    parent.listen()
    say("Everything is running.")
    assert parent.stopping
    assert not parent.watch(until=lambda: True)
    parent.stop()
    assert terminal.text.decode() == "Everything is running.\n\nStopping …\n"
