"""`record_16_writers`: the same as `record_entry`, with sixteen processes at work on sixteen episodes at once.

What would show here and not there is a lock that all share.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from multiprocessing import get_context
from multiprocessing.connection import Connection
from multiprocessing.process import BaseProcess
from statistics import median

from checklists.speed.measure import Ratio, seconds

WRITERS = 16


def measure(writers: Sequence[tuple[str, str]], at: datetime, *, rounds: int, each: int) -> Ratio:
    """Rounds of `each` facts a writer, floor and programme in turns. `writers`: username and episode of each."""
    crew = [_hired(username, reference, at) for username, reference in writers]
    try:
        _round(crew, "floor", each), _round(crew, "program", each)  # not counted
        floors, programs = [], []
        for _ in range(rounds):
            floors.append(_round(crew, "floor", each))
            programs.append(_round(crew, "program", each))
    finally:
        for _, line in crew:
            line.send(None)
        for process, _ in crew:
            process.join()
    facts = len(writers) * each
    return Ratio(median(floors) / facts, median(programs) / facts, rounds)


def _hired(username: str, reference: str, at: datetime) -> tuple[BaseProcess, Connection]:
    here, there = get_context("spawn").Pipe()
    process = get_context("spawn").Process(target=_work, args=(there, username, reference, at), daemon=True)
    process.start()
    if here.recv() != "ready":
        raise RuntimeError("a writer did not get ready")
    return process, here


def _round(crew: Sequence[tuple[BaseProcess, Connection]], what: str, each: int) -> float:
    """Seconds from the word to the last writer's answer."""

    def whole() -> None:
        for _, line in crew:
            line.send((what, each))
        answers = [line.recv() for _, line in crew]
        if answers != ["done"] * len(crew):
            raise RuntimeError(f"a writer failed: {answers}")

    return seconds(whole)


def _work(line: Connection, username: str, reference: str, at: datetime) -> None:
    """One writer: waits for the word, records so many facts, answers."""
    import django

    django.setup()
    from checklists.speed.data import writer_of
    from checklists.speed.recording import Floor, attempts, by_program

    writer = writer_of(username, reference, at)
    facts, floor = attempts(writer), Floor(writer)
    line.send("ready")
    while (word := line.recv()) is not None:
        what, each = word
        for _ in range(each):
            fact = next(facts)
            if what == "floor":
                floor(fact)
            else:
                by_program(writer, fact)
        line.send("done")
