"""`replay`: a file of facts, every rule judged and every status told, against `json.loads` of the same lines."""

from __future__ import annotations

import io
import json
import resource
import sys
from collections.abc import Callable
from multiprocessing import get_context
from pathlib import Path
from statistics import median

from checklists.speed.measure import Ratio, seconds

MIB_OF_KIB = 1024


def floor(history: str, protocol: str) -> None:
    """Turn every line into an object, and do nothing with it."""
    with Path(history).open(encoding="utf-8") as lines:
        for line in lines:
            json.loads(line)


def program(history: str, protocol: str) -> None:
    """The replay command's own door: every rule, every status, one line of report an episode."""
    from checklists.replay import replay_file

    report = io.StringIO()
    replay_file(Path(protocol), Path(history), at=None, out=report, complaints=sys.stderr)
    if not report.getvalue():
        raise RuntimeError("the replay reported nothing")


def _in_child(work: Callable[[str, str], None], history: str, protocol: str) -> tuple[float, float]:
    """Seconds and peak memory (MiB) of a run in a process of its own, which has nothing else in its memory."""
    with get_context("spawn").Pool(1) as pool:
        return pool.apply(_timed, (work, history, protocol))


def _timed(work: Callable[[str, str], None], history: str, protocol: str) -> tuple[float, float]:
    spent = seconds(lambda: work(history, protocol))
    return spent, resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / MIB_OF_KIB


def measure(history: Path, protocol: Path, *, pairs: int) -> tuple[Ratio, float]:
    """The ratio, and the programme's peak memory in MiB."""
    floors, programs, peaks = [], [], []
    for _ in range(pairs):
        floors.append(_in_child(floor, str(history), str(protocol))[0])
        spent, peak = _in_child(program, str(history), str(protocol))
        programs.append(spent)
        peaks.append(peak)
    return Ratio(median(floors), median(programs), pairs), max(peaks)
