"""`record_16_writers`: the same as `record_entry`, with sixteen processes at work on sixteen episodes at once.

What would show here and not there is a lock that all share.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from datetime import datetime
from functools import cache
from multiprocessing import get_context
from multiprocessing.connection import Connection
from multiprocessing.context import ForkServerContext
from multiprocessing.process import BaseProcess
from statistics import median

from checklists.speed.measure import Ratio, seconds

WRITERS = 16


def measure(
    writers: Sequence[tuple[str, str]],
    at: datetime,
    *,
    rounds: int,
    each: int,
    floor: str = "floor",
    sealed: bool = False,
) -> Ratio:
    """Rounds of `each` facts a writer, floor and programme in turns. `writers`: username and episode of each.

    `floor`: what the programme is measured against (recording.acts_of). `sealed`: while the programme writes, a sealer
    is at work, and a round lasts until it is done with what it found.
    """
    crew = [hired(_write, username, reference, at) for username, reference in writers]
    sealer = [hired(_seal)] if sealed else []
    try:
        _round(crew, floor, each), _round(crew + sealer, "program", each)  # not counted
        floors, programs = [], []
        for _ in range(rounds):
            floors.append(_round(crew, floor, each))
            programs.append(_round(crew + sealer, "program", each))
    finally:
        for _, line in crew + sealer:
            line.send(None)
        for process, _ in crew + sealer:
            process.join()
    facts = len(writers) * each
    return Ratio(median(floors) / facts, median(programs) / facts, rounds)


@cache
def _employer() -> ForkServerContext:
    """Where writers come from: a process that has read the programme once, and has spoken to no database."""
    context = get_context("forkserver")
    context.set_forkserver_preload(["checklists.speed.crew"])
    return context


def hired(work: Callable[..., None], *words: object) -> tuple[BaseProcess, Connection]:
    """A process that does `work`, and the line to it, once it has said that it is ready.

    Raises EOFError where it fell before that, as every later word from it does.
    """
    here, there = _employer().Pipe()
    process = _employer().Process(target=work, args=(there, *words), daemon=True)
    process.start()
    there.close()  # so that a writer who fell is heard: the line ends
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


def _write(line: Connection, username: str, reference: str, at: datetime) -> None:
    """One writer: waits for the word, records so many facts, answers."""
    import django

    django.setup()
    from checklists.speed.data import writer_of
    from checklists.speed.recording import acts_of, attempts
    from clinic.access import standing

    standing.process_stands_as(standing.EVERYBODY)
    writer = writer_of(username, reference, at)
    facts, acts = attempts(writer), acts_of(writer)
    with standing.standing_as(writer.staff, at):
        line.send("ready")
        while (word := line.recv()) is not None:
            what, each = word
            for _ in range(each):
                acts[what](next(facts))
            line.send("done")


def _seal(line: Connection) -> None:
    """The sealer: waits for the word, seals what has been written so far, answers."""
    import django

    django.setup()
    from clinic import clock
    from clinic.access import standing
    from clinic.ledger.seal import seal

    standing.process_stands_as(standing.EVERYBODY)
    line.send("ready")
    while line.recv() is not None:
        seal(clock.now())
        line.send("done")
