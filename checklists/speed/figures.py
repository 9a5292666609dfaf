"""All figures of the bench, one after the other, with what each must not exceed."""

from __future__ import annotations

import tempfile
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from checklists.record.protocols import CURRENT_KEY, FOLDER
from checklists.speed import (
    bare,
    board,
    data,
    gym,
    late,
    ledger,
    recording,
    replaying,
    scan,
    scripts,
    verifying,
    writers,
)
from checklists.speed.histories import Course, courses, write_history

LONG_EPISODE = 5_000  # facts, for the late one
A_YEAR = 1_000  # facts, for the Floor
DUE = 500  # deadlines that a scan finds


@dataclass(frozen=True, slots=True)
class Size:
    """How much is measured. `small` and `large`: facts in the database for the two boards."""

    small: int
    large: int
    history: int
    pairs: int
    rounds: int
    late_pairs: int
    replay_pairs: int
    scripts: int
    deadlines: int  # met or ahead, among those that are due


FULL = Size(
    100_000, 1_000_000, 1_000_000, pairs=300, rounds=15, late_pairs=9, replay_pairs=3, scripts=100_000, deadlines=50_000
)
QUICK = Size(20_000, 30_000, 6_000, pairs=10, rounds=3, late_pairs=2, replay_pairs=1, scripts=1_000, deadlines=1_000)


@dataclass(frozen=True, slots=True)
class Figure:
    """One figure: a ratio to its floor, or for `replay_peak_mib` a size."""

    name: str
    value: float
    limit: float
    said: str

    @property
    def kept(self) -> bool:
        """Whether it is within its limit."""
        return self.value <= self.limit


def measured(size: Size, at: datetime, say: Callable[[str], None]) -> Iterator[Figure]:
    """Load, measure, load more, measure: each figure as soon as it is known."""
    clinic = data.found(at)
    say("simulating courses …")
    made = courses(clinic.protocol)
    yield from _replays(size, made)
    yield from _scripts(size, made, say)
    say(f"loading {size.small:,} facts …")
    data.load(clinic, made, size.small)
    yield from _ledger(size, at, say)
    # after it, for its writers write to the reader's people, of whom a board has more to say then
    _, small = board.measure(data.the_reader(), at, pairs=size.pairs)
    say(f"loading {size.large:,} facts …")
    data.load(clinic, made, size.large)
    shown, large = board.measure(data.the_reader(), at, pairs=size.pairs)
    yield Figure("board_json", shown.value, 1.5, f"{shown}, at {clinic.facts:,} facts")
    both = f"{large.value:.3f} times the same work against {small.value:.3f}: {large}; {small}"
    yield Figure("board_growth", large.value / small.value, 1.2, both)
    yield from _records(size, at, say)
    scanned = scan.measure(at, pairs=max(5, size.pairs // 10), others=size.deadlines, due=DUE)
    yield Figure("overdue_scan", scanned.value, 1.5, f"{scanned}, {DUE} due among {DUE + size.deadlines:,}")
    yield from _floor(size, clinic, say)
    long_one = clinic.episodes
    data.load(clinic, courses(clinic.protocol, facts=LONG_EPISODE, different=1), clinic.facts + LONG_EPISODE)
    tardy = late.measure(data.writer_of(*data.carrier_of(long_one), at), clinic.protocol, pairs=size.late_pairs)
    yield Figure("late_fact", tardy.value, 1.5, f"{tardy}, {LONG_EPISODE:,} facts")


def _floor(size: Size, clinic: data.Clinic, say: Callable[[str], None]) -> Iterator[Figure]:
    if not gym.here():
        say("there is no browser here, or not what drives one: the Floor is not measured")
        return
    say("tapping through sessions in a browser …")
    number = clinic.episodes
    data.load(clinic, courses(clinic.protocol, facts=A_YEAR, different=1), clinic.facts + A_YEAR)
    tapped, starts = gym.measure(*data.carrier_of(number), rounds=-(-size.rounds // 3))
    yield Figure("floor_tap", tapped.ratio, 8.0, f"{tapped}, of a bare page's tap")
    yield Figure("floor_start", starts.ratio, 12.0, f"{starts}, of the plainest page off line")


def _ledger(size: Size, at: datetime, say: Callable[[str], None]) -> Iterator[Figure]:
    """Before the floors of the others have put in rows that no key of ours has made a MAC for."""
    say("making the tables of a clinic without a ledger …")
    bare.make_twins()
    sealed = ledger.measure_seal(rows=size.small // 20, pairs=size.rounds)
    yield Figure("seal", sealed.value, 5.0, f"{sealed}, {size.small // 20:,} rows")
    verified, once = verifying.measure(pairs=size.replay_pairs)
    besides = f"{verified}; {once.value:.1f} times hashing each byte but once"
    yield Figure("verify", verified.value, 4.0, besides)
    one = ledger.measure_entry(data.writer_of(*data.carrier_of(0), at), pairs=size.pairs)
    yield Figure("ledger_entry", one.value, 1.15, f"{one}, with against without")
    say("hiring sixteen writers and a sealer …")
    crew = [data.carrier_of(1 + number) for number in range(writers.WRITERS)]
    many = ledger.measure_writers(crew, at, rounds=size.rounds)
    yield Figure("ledger_16_writers", many.value, 1.15, f"{many}, of a fact each, the sealer beside")


def _records(size: Size, at: datetime, say: Callable[[str], None]) -> Iterator[Figure]:
    one = recording.measure(data.writer_of(*data.carrier_of(data.A_CASELOAD), at), pairs=size.pairs)
    yield Figure("record_entry", one.value, 3.0, str(one))
    say("hiring sixteen writers …")
    crew = [data.carrier_of(data.A_CASELOAD + 1 + number) for number in range(writers.WRITERS)]
    many = writers.measure(crew, at, rounds=size.rounds, each=20)
    yield Figure("record_16_writers", many.value, 1.3 * one.value, f"{many}, of a fact each")


def _replays(size: Size, made: list[Course]) -> Iterator[Figure]:
    with tempfile.TemporaryDirectory() as folder:
        history = Path(folder, "history.jsonl")
        write_history(history, made, size.history)
        ratio, peak = replaying.measure(history, FOLDER / f"{CURRENT_KEY}.json", pairs=size.replay_pairs)
    yield Figure("replay", ratio.value, 6.0, f"{ratio}, {size.history:,} facts")
    yield Figure("replay_peak_mib", peak, 1024.0, "the largest that the process grew")


def _scripts(size: Size, made: list[Course], say: Callable[[str], None]) -> Iterator[Figure]:
    which = scripts.node()
    if which is None:
        say("there is no Node here: the core in JavaScript is not measured")
        return
    with tempfile.TemporaryDirectory() as folder:
        found = scripts.measure(
            made,
            FOLDER / f"{CURRENT_KEY}.json",
            Path(folder),
            lines=size.scripts,
            pairs=size.replay_pairs,
            which=which,
        )
    yield Figure("js_replay", found.replay.value, 60.0, f"{found.replay}, {found.lines:,} facts, JSON.parse")
    few, many = (1e6 * one["append"] for one in (found.few, found.many))
    yield Figure("js_step_growth", found.growth, 1.3, f"{many:.1f} µs after 10,000 entries, {few:.1f} µs after 10")
    taken_up = f"milliseconds from a snapshot of {found.many['snapshot']:,} bytes, with a step"
    yield Figure("js_restore_ms", 1e3 * found.many["restore"], 2.0, taken_up)
