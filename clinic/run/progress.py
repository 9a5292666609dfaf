"""Progress on the terminal: one line rewritten on a screen, a line now and then in a log.

Standard library only.
"""

import os
import sys
import time

EVERY = 5.0  # seconds between lines where the output is a file


def say(sentence: str) -> None:
    """Print one sentence at once, whatever the output is connected to."""
    _show(sentence + "\n")


def _show(text: str) -> None:
    try:
        sys.stdout.write(text)
        sys.stdout.flush()
    except BrokenPipeError:  # whoever read along has left: go on without them
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())


def complain(what: object) -> None:
    """Print what went wrong where faults belong."""
    print(what, file=sys.stderr, flush=True)


class Progress:
    """Counts steps towards a known total and shows how far it is."""

    def __init__(self, title: str, total: int) -> None:
        self._title, self._total, self._done = title, total, 0
        self._began = time.monotonic()
        self._shown = self._began
        self._screen = sys.stdout.isatty()
        say(f"{title} …")

    def step(self, name: str = "") -> None:
        """One more is done."""
        self._done += 1
        self._show(f"{self._done} of {self._total} {name}")

    def advance(self, by: int) -> None:
        """So many more are done."""
        self._done += by
        self._show(f"{self._done:,} of {self._total:,}")

    def note(self, text: str) -> None:
        """Say what goes on without counting."""
        self._show(text, always=True)

    def end(self, word: str) -> None:
        """Close with a word and the seconds it took."""
        clear = "\r\033[K" if self._screen else ""
        say(f"{clear}{self._title}: {word} after {time.monotonic() - self._began:.0f} s.")

    def _show(self, text: str, *, always: bool = False) -> None:
        now = time.monotonic()
        if self._screen:
            _show(f"\r\033[K  {self._title}: {text}")
        elif always or now - self._shown >= EVERY:
            self._shown = now
            say(f"  {self._title}: {text} ({now - self._began:.0f} s)")
