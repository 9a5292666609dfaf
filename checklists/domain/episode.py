"""An episode as it stands after its last entry: what the surfaces ask, a step further, and its snapshot."""

import json
from bisect import bisect_right
from collections.abc import Iterable, Mapping
from datetime import datetime, timedelta
from operator import attrgetter
from typing import Any, NamedTuple

import orjson

from . import advice, instant, reasons
from .advice import Advice, CheckFirst, Step
from .builtin import STRUCK_DANGER, lacking
from .course import NOBODY, Alert, Course, Raw
from .deadline import Deadline, Deadlines
from .entry import Entry
from .entry_check import check_entry
from .fold import Fold
from .kinds import BESIDE
from .knee import KneeState
from .monitor import LEFT, ONLY, RIGHT
from .protocol import Protocol
from .reading import make_entry
from .record import NO_OPENING, Record, Refused, arrange, place

_VERSION = 3  # of the form of a snapshot, which the core in JavaScript reads and writes too


class Replayed(NamedTuple):
    """What a replay from nothing found. `at` is the instant of the report, as written; None where nothing happened."""

    episode: "Episode"
    alerts: list[Alert]
    refused: list[Refused]
    struck: dict[str, tuple[str, ...]]
    at: str | None
    refused_at: list[int]  # for each of `refused`, its place among the entries received; -1 for the missing opening


class StaleSnapshot(ValueError):
    """A snapshot of another protocol or of another form: only a replay gives the state."""


class Episode(Course):
    """The state of one episode.

    An entry that it `takes` is appended at a cost that does not depend on those before it.
    """

    __slots__ = ("_last", "_now", "_waiting", "number", "reference")

    def __init__(self, protocol: Protocol, reference: str) -> None:
        super().__init__(protocol)
        self.reference = reference
        self.number = 0  # of entries that count
        self._last: tuple[int, int, int, str] | None = None
        self._now: tuple[int, str] | None = None
        self._waiting: tuple[str, ...] = ()

    # -- from nothing -------------------------------------------------------------------------------------------------

    @classmethod
    def replay(
        cls, protocol: Protocol, entries: Iterable[Entry], *, reference: str, at: datetime | str | None = None
    ) -> Replayed:
        """Fold a whole record, in whatever order and how often its entries arrived; `at` reports as of an instant."""
        record = arrange(entries, reference)
        episode = cls(protocol, reference)
        if at is not None:
            until_us, _, until = instant.of(at)
        elif record.last is not None:
            until_us, until = record.last.at_us, record.last.at
        else:
            until_us, until = 0, None
        raw = episode._fold_all(record, until_us)
        raw += episode._pending_at(until_us)
        raw += episode._struck_dangers(record, until_us)
        refused = [*record.refused, *([(-1, NO_OPENING)] if record.opening is None else [])]
        return Replayed(
            episode,
            episode._alerts(raw),
            [one for _, one in refused],
            record.struck,
            until,
            [index for index, _ in refused],
        )

    def _fold_all(self, record: Record, until_us: int) -> list[Raw]:
        raw: list[Raw] = []
        entries = record.entries
        if entries and entries[-1].at_us > until_us:
            entries = entries[: bisect_right(entries, until_us, key=attrgetter("at_us"))]
        if record.opening is not None:
            self._begin(both=int(record.opening.get("side") == "both"))
            self._step(record.opening, raw)
        step = self._step
        for entry in entries:
            step(entry, raw)
        self.number = len(entries) + (record.opening is not None)
        self._waiting = record.waiting
        for end in (
            record.opening,
            *entries[-1:],
            *(strike for strike, _ in record.strikes if strike.at_us <= until_us),
        ):
            if end is not None:
                self._note(end)
        return raw

    def _struck_dangers(self, record: Record, until_us: int) -> list[Raw]:
        number = self._compiled.first_builtin + STRUCK_DANGER
        return [
            (*place(strike), number, strike.at)
            for strike, target in record.strikes
            if target is not None and strike.at_us <= until_us
            if self._compiled.facts(target.shape, self._both).dangerous
        ]

    # -- step by step -------------------------------------------------------------------------------------------------

    def takes(self, entry: Entry) -> bool:
        """Whether `append` gives the right answer; for a late fact, a strike-out, an opening only a replay does."""
        if entry.kind == "struck_out" or entry.id in self._waiting:
            return False
        if entry.kind in BESIDE:
            return True
        if entry.rank == 0:
            return self.number == 0 and self._last is None
        return self._last is None or entry[:4] > self._last

    def append(self, entry: Entry) -> list[Alert]:
        """Take the next entry in order. Returns what it breaks, and the deadlines that its instant shows to be missed.

        `met` then lists the deadlines that it met: an alert that was raised when one of them passed is withdrawn.
        """
        if not self.takes(entry):
            raise ValueError("only a replay of the whole record can take this entry")
        if entry.shape.protocol is not self.protocol:
            raise ValueError("the entry was read under another protocol")
        self.met = []
        if entry.kind in BESIDE:
            return []
        if entry.rank == 0:
            self._begin(both=int(entry.get("side") == "both"))
        raw: list[Raw] = []
        self._step(entry, raw)
        self._note(entry)
        self.number += 1
        return self._alerts(raw)

    def _note(self, entry: Entry) -> None:
        """Remember how far the record goes, in order and in time."""
        if entry.rank and (self._last is None or entry[:4] > self._last):
            self._last = entry[:4]
        if self._now is None or entry.at_us > self._now[0] or (entry.at_us == self._now[0] and entry[:4] == self._last):
            self._now = entry.at_us, entry.at

    # -- what it says -------------------------------------------------------------------------------------------------

    @property
    def both(self) -> bool:
        """Whether the person has two prostheses."""
        return bool(self._both)

    @property
    def at(self) -> str | None:
        """The `at` of the last entry in time, as written."""
        return self._now[1] if self._now else None

    def deadlines(self) -> list[Deadline]:
        """The open deadlines, soonest first, each once. Broken at the first instant after `due`, unless met by then."""
        keys, severities = self._compiled.rule_keys, self._compiled.severities
        open_ = {tuple(one) for book in self._deadlines for rule in book.open.values() for one in rule}
        return [Deadline(keys[one[1]], one[5], one[6], one[0], severities[one[1]]) for one in sorted(open_)]

    def status_words(self, at: datetime | str | None = None) -> dict[str, str]:
        """The status of every skill at an instant, by default that of the last entry."""
        moment = instant.of(at)[0] if at is not None else self._now[0] if self._now else 0
        return {key: self.fold.status(number, moment) for number, key in enumerate(self.fold.plan.keys)}

    def statuses(self, at: datetime | str) -> dict[str, reasons.SkillStatus]:
        """Every skill with its status and the reasons in plain words, at an instant not before the last entry."""
        return reasons.statuses(self.fold, instant.of(at)[0])

    def status(self, skill: str, at: datetime | str) -> reasons.SkillStatus:
        """One skill, as `statuses` has it."""
        at_us = instant.of(at)[0]
        number = self.fold.plan.number[skill]
        return reasons.status(self.fold, self.fold.plan.skills[number], at_us, self.fold.signed_at(at_us))

    def sign_off_blockers(self, skill: str, at: datetime | str) -> tuple[str, ...]:
        """What a sign-off of a skill would lack at an instant, one sentence each; none where it would be supported."""
        at_us, day, _ = instant.of(at)
        number = self.fold.plan.number[skill]
        lacks = lacking(self.fold, number, at_us, day)
        return reasons.sign_off_lacks(self.fold, self.fold.plan.skills[number], lacks=lacks, at=at_us)

    def advise(self, planned: Mapping[str, Any], *, at: datetime | str, role: str | None = None) -> Advice:
        """What an attempt (or another planned entry) would break if it were made now by somebody in this role.

        `planned` has the fields of its kind; `kind` is by default `attempt` and the result of an attempt `safe`. Raises
        EntryRefused where a field is wrong.
        """
        at_us, day, text = instant.of(at)
        obj = {"id": NOBODY, "episode": self.reference, "at": text, "by": "", "kind": "attempt", **planned}
        if obj["kind"] == "attempt":
            obj.setdefault("result", "safe")
        if role is not None:
            obj["role"] = role
        check_entry(obj, self.protocol, None)
        if obj["kind"] in BESIDE:
            return Advice(allowed=True, breaks=())
        entry = make_entry(obj, self._compiled.shapes)._replace(at_us=at_us, day=day)
        breaks = tuple(advice.broken_by(self, entry))
        return Advice(not breaks, breaks, self.counted(entry))

    def closed_to(self, role: str, at: datetime | str) -> list[str]:
        """The skills of which even the firmest attempt is against a rule that binds whoever records in this role."""
        helps = self.protocol.help

        def breaks(skill: str, rung: str, role: str | None) -> set[str]:
            planned = {"skill": skill, "support": rung, "help": helps[0]}
            return {one.rule for one in self.advise(planned, at=at, role=role).breaks}

        firmest = [(one.skill.key, one.ladder[0]) for one in self.fold.plan.skills]
        return [key for key, rung in firmest if breaks(key, rung, role) - breaks(key, rung, None)]

    def next_steps(self, at: datetime | str) -> list[Step]:
        """What is safe to try next, in climbing order."""
        return advice.next_steps(self, instant.of(at))

    def check_first(self, at: datetime | str) -> list[CheckFirst]:
        """What must be checked or done before anything is tried."""
        return advice.check_first(self, instant.of(at))

    def changes_at(self, at: datetime) -> int | None:
        """The first instant after `at`, in microseconds, at which time alone may change what the above say."""
        at_us, _, _ = instant.of(at)
        known = [until for until in (*self._lapses(), *self._expiries()) if until > at_us]
        if self.fold.last_try is not None:
            offset = (at.utcoffset() or timedelta(0)) // timedelta(microseconds=1)
            begins = (self.fold.last_try + self.fold.plan.gap_days + 1 - instant.EPOCH_DAY) * instant.DAY - offset
            known += [begins] if begins > at_us else []
        return min(known, default=None)

    def knees(self) -> list[KneeState]:
        """The mode of the knee, or of the left and of the right one."""
        sides = ("left", "right") if self._both else (None,)
        return [KneeState(side, *state) for side, state in zip(sides, self.fold.modes, strict=False)]

    def uncounted(self) -> list[str]:
        """The safe attempts of the last date on which one did not count that left the evidence as it was, oldest first:
        what `advise` says of a planned one in `counted`, of those that were made."""
        return list(self.fold.uncounted[1])

    # -- snapshot -----------------------------------------------------------------------------------------------------

    def snapshot(self) -> bytes:
        """The state as JSON: a few kB, whatever the number of entries."""
        state = [
            *(_VERSION, self.protocol.digest),
            *(self.reference, self._both, self.number, self._last, self._now, self._waiting),
            self.fold.dump(),
            [self._compiled.watch.dump(memory) for memory in self._memories],
            [book.dump() for book in self._deadlines],
        ]
        try:
            return orjson.dumps(state)
        except TypeError:  # half of a character in a text of an old history: escaped, as it came
            return json.dumps(state, separators=(",", ":")).encode()

    @classmethod
    def restore(cls, protocol: Protocol, snapshot: bytes | str) -> "Episode":
        """Take an episode up from its snapshot; raises StaleSnapshot where the protocol or the form is another."""
        try:
            version, digest, *state = orjson.loads(snapshot)
        except orjson.JSONDecodeError:
            version, digest, *state = json.loads(snapshot)
        if version != _VERSION or digest != protocol.digest:
            raise StaleSnapshot("the snapshot was made under another protocol or by another version")
        self = cls.__new__(cls)
        self.protocol, self._compiled, self.met = protocol, protocol.compiled, []
        self.reference, self._both, self.number, last, now, waiting, fold, memories, books = state
        self._last = tuple(last) if last else None
        self._now = tuple(now) if now else None
        self._waiting = tuple(waiting)
        self._views = (LEFT, RIGHT) if self._both else (ONLY,)
        self.fold = Fold.of(self._compiled.plans[self._both], fold)
        self._memories = [self._compiled.watch.take_up(memory) for memory in memories]
        self._deadlines = [Deadlines(open_) for open_ in books]
        return self
