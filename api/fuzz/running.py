"""Many inputs. Each is made from the seed and its number alone, so that one can be tried again by itself."""

from __future__ import annotations

import signal
import traceback
from collections import Counter
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from random import Random
from types import FrameType
from typing import Any

from api.fuzz.targets import Target
from clinic.clock import ticks

LONGEST = 5.0  # seconds for one input; more is a fault as well
_APART = 1_000_003  # a prime: seeds next to each other share no input


class TooSlow(Exception):
    """An input that keeps the programme busy."""


@dataclass(frozen=True)
class Failure:
    """An input that was not refused in words."""

    number: int
    target: str
    fault: str
    way: str
    made: str


@dataclass
class Outcome:
    """How many were tried of each, how many of them were refused, and what failed."""

    tried: Counter[str] = field(default_factory=Counter)
    refused: Counter[str] = field(default_factory=Counter)
    failures: list[Failure] = field(default_factory=list)
    seconds: float = 0.0

    @property
    def inputs(self) -> int:
        """How many in all."""
        return sum(self.tried.values())


def run(
    targets: list[Target],
    numbers: range,
    seed: int,
    *,
    told: Callable[[int, Outcome], None] = lambda number, outcome: None,
    failed: Callable[[Failure], None] = lambda failure: None,
) -> Outcome:
    """Try these numbers; `told` hears from time to time how far it is, `failed` of each fault at once."""
    outcome, began = Outcome(), ticks()
    weights = [target.weight for target in targets]
    with _clock():
        for number in numbers:
            rng = Random(seed * _APART + number)  # noqa: S311 - nothing secret comes of it
            (target,) = rng.choices(targets, weights)
            failure = one(target, number, rng, outcome)
            if failure is not None:
                outcome.failures.append(failure)
                failed(failure)
            if number % 1_000 == 999:
                outcome.seconds = ticks() - began
                told(number + 1, outcome)
    outcome.seconds = ticks() - began
    return outcome


def one(target: Target, number: int, rng: Random, outcome: Outcome) -> Failure | None:
    """Make one input and try it."""
    made = target.make(rng)
    outcome.tried[target.name] += 1
    signal.setitimer(signal.ITIMER_REAL, LONGEST)
    try:
        target.try_it(made)
    except target.refusals:
        outcome.refused[target.name] += 1
    except Exception as fault:
        way = "".join(traceback.format_exception(fault)[-6:])
        return Failure(number, target.name, f"{type(fault).__name__}: {fault}"[:300], way, repr(made)[:20_000])
    finally:
        signal.setitimer(signal.ITIMER_REAL, 0)
    return None


@contextmanager
def _clock() -> Iterator[None]:
    """An input that takes too long is stopped and told like any other fault."""

    def stop(number: int, frame: FrameType | None) -> Any:
        raise TooSlow(f"more than {LONGEST:.0f} s")

    before = signal.signal(signal.SIGALRM, stop)
    try:
        yield
    finally:
        signal.setitimer(signal.ITIMER_REAL, 0)
        signal.signal(signal.SIGALRM, before)
