"""Floor and programme in turns, and the ratio of their medians."""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import dataclass
from statistics import median


@dataclass(frozen=True, slots=True)
class Ratio:
    """Medians in seconds, and how many pairs they are of."""

    floor_s: float
    program_s: float
    pairs: int

    @property
    def value(self) -> float:
        """How many times the floor the programme takes."""
        return self.program_s / self.floor_s

    def __str__(self) -> str:
        return f"{self.program_s * 1000:.3f} ms against {self.floor_s * 1000:.3f} ms, medians of {self.pairs} pairs"


def seconds(work: Callable[[], object]) -> float:
    """How long one run of `work` takes."""
    began = time.perf_counter()
    work()
    return time.perf_counter() - began


def in_turns(
    floor: Callable[[], object],
    program: Callable[[], object],
    *,
    pairs: int,
    warm: int = 3,
    before_each: Callable[[], object] = lambda: None,
) -> Ratio:
    """Run both `pairs` times in turns, each first every second time, after some runs of each that are not counted.

    What `before_each` does is not counted either.
    """

    def once(work: Callable[[], object]) -> float:
        before_each()
        return seconds(work)

    for _ in range(warm):
        once(floor)
        once(program)
    floors, programs = [], []
    for turn in range(pairs):
        if turn % 2:
            programs.append(once(program))
            floors.append(once(floor))
        else:
            floors.append(once(floor))
            programs.append(once(program))
    return Ratio(median(floors), median(programs), pairs)
