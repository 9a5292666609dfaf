"""The core in JavaScript: a replay against JSON.parse of the same lines, and a step after ten and after 10,000 entries.

Measured in Node by core.mjs, in seconds of the processor. The Node of a checkout is the one that drives the browsers of
the tests; a server needs none, and then nothing is measured.
"""

from __future__ import annotations

import shutil
import subprocess
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

import orjson

from checklists.speed.histories import Course, copy_of, reference_of, write_history
from checklists.speed.measure import Ratio

SCRIPT = Path(__file__).with_name("core.mjs")
MANY = 10_000  # entries of the long record


def node() -> str | None:
    """The Node of this machine, where there is one."""
    try:
        from playwright._impl._driver import compute_driver_executable
    except ImportError:
        return shutil.which("node")
    return str(compute_driver_executable()[0])


@dataclass(frozen=True, slots=True)
class Measured:
    """Seconds: of a replay and of its floor, of a step and of restoring with a step after few and many entries."""

    replay: Ratio
    lines: int
    few: dict[str, Any]
    many: dict[str, Any]

    @property
    def growth(self) -> float:
        """How much longer a step takes after many entries than after few."""
        return float(self.many["append"] / self.few["append"])


def long_record(course: Course) -> Iterator[str]:
    """One record of many years, as lines: a course again and again, each time after the last."""
    ends, begins = (datetime.fromisoformat(course.facts[place]["at"]) for place in (-1, 0))
    given = number = 0
    while given < MANY:
        for _, text in copy_of(course, number):
            fact = orjson.loads(text)
            if number and fact["kind"] == "episode_opened":
                continue
            at = datetime.fromisoformat(fact["at"]) + number * (ends - begins + timedelta(days=1))
            yield orjson.dumps({**fact, "episode": reference_of(0), "at": at.isoformat()}).decode() + "\n"
            given += 1
        number += 1


def measure(made: Sequence[Course], protocol: Path, folder: Path, *, lines: int, pairs: int, which: str) -> Measured:
    """Write the histories and measure. `which`: the Node to use."""
    history, long = folder / "scripts.jsonl", folder / "long.jsonl"
    write_history(history, list(made), lines)
    long.write_text("".join(long_record(made[0])), encoding="utf-8")
    command = [which, str(SCRIPT), str(protocol), str(history), str(long), str(pairs)]
    done = subprocess.run(command, capture_output=True, check=True, timeout=1_200)
    said = orjson.loads(done.stdout)
    replay = Ratio(said["replay"]["floor"], said["replay"]["program"], pairs)
    return Measured(replay, said["replay"]["lines"], said["few"], said["many"])
