"""An episode as it stands after its last entry: the fold, the watched rules and the open deadlines together."""

from collections.abc import Iterable
from datetime import datetime
from typing import Any, NamedTuple

import orjson

from . import instant, reasons
from .builtin import FALL_UNREVIEWED, STRUCK_DANGER
from .deadline import Deadline, Deadlines, Pending
from .entry import Entry
from .fold import Fold
from .knee import KneeState
from .monitor import LEFT, ONLY, RIGHT, watch
from .program import BROKEN, EXPECTED
from .protocol import Protocol
from .record import NO_OPENING, Record, Refused, arrange, place

_VERSION = 1
Raw = tuple[bool, int, int, int, str, int, str]  # place of the entry in the record, rule number, `at`


class Alert(NamedTuple):
    """One break of a rule at an entry. `at` is the entry's, as written."""

    rule: str
    entry: str
    at: str
    severity: str


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


class Episode:
    """The state of one episode. An entry that `takes` is appended at a cost that does not depend on those before it."""

    __slots__ = (
        "_both", "_compiled", "_deadlines", "_last", "_memories", "_now", "_views", "_waiting", "fold", "met", "number",
        "protocol", "reference",
    )  # fmt: skip

    def __init__(self, protocol: Protocol, reference: str) -> None:
        self.protocol = protocol
        self.reference = reference
        self.number = 0  # of entries that count
        self.met: list[tuple[str, str]] = []  # deadlines (rule, entry) that the last append has met
        self._compiled = protocol.compiled
        self._last: tuple[int, int, int, str] | None = None
        self._now: tuple[int, str] | None = None
        self._waiting: tuple[str, ...] = ()
        self._begin(both=0)

    def _begin(self, both: int) -> None:
        self._both = both
        self._views = (LEFT, RIGHT) if both else (ONLY,)
        self.fold = Fold(self._compiled.plans[both])
        self._memories = [self._compiled.watch.first_memory() for _ in self._views]
        self._deadlines = [Deadlines() for _ in self._views]

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
            episode, episode._alerts(raw), [one for _, one in refused], record.struck, until, [index for index, _ in refused]
        )  # fmt: skip

    def _fold_all(self, record: Record, until_us: int) -> list[Raw]:
        raw: list[Raw] = []
        if record.opening is not None:
            self._begin(both=int(record.opening.get("side") == "both"))
            self._step(record.opening, raw)
        for entry in record.entries:
            if entry.at_us > until_us:
                break
            self._step(entry, raw)
        for strike, _ in record.strikes:
            if strike.at_us <= until_us:
                self._note(strike)
        self._waiting = record.waiting
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
        """Whether `append` gives the right answer; where not (a late fact, a strike-out, an opening), only a replay does."""
        if entry.kind == "struck_out" or entry.id in self._waiting:
            return False
        if entry.rank == 0:
            return self.number == 0 and self._last is None
        return self._last is None or entry[:4] > self._last

    def append(self, entry: Entry) -> list[Alert]:
        """Take the next entry in order. Returns what it breaks, and the deadlines that its instant shows to be missed.

        `met` then lists the deadlines that it met: an alert that was raised when one of them passed unseen is withdrawn.
        """
        if not self.takes(entry):
            raise ValueError("only a replay of the whole record can take this entry")
        if entry.shape.protocol is not self.protocol:
            raise ValueError("the entry was read under another protocol")
        if entry.rank == 0:
            self._begin(both=int(entry.get("side") == "both"))
        self.met = []
        raw: list[Raw] = []
        self._step(entry, raw)
        return self._alerts(raw)

    def _step(self, entry: Entry, raw: list[Raw]) -> None:
        """Move past an entry: first what is certainly late, then the document's rules, then the fold with its rules."""
        at, shape, both, compiled = entry.at_us, entry.shape, self._both, self._compiled
        facts = shape.facts[both] or compiled.facts(shape, both)
        broken: tuple[int, ...] | set[int] = ()
        if not both:
            if at > self._deadlines[0].next_due and entry.rank:
                self._overdue(at, raw)
            view = shape.views[ONLY] or compiled.view(shape, ONLY)
            verdicts = watch(self._memories[0], view, entry, self.fold.status_named)
            if verdicts:
                broken = self._broken(verdicts, 0, entry)
        else:
            broken = self._two_knees(entry, raw)
        if broken:
            raw += [(*place(entry), number, entry.at) for number in sorted(broken)]
        if facts.act is not None:
            found = facts.act(self.fold, entry, facts)
            if found:
                raw += [(*place(entry), compiled.first_builtin + number, entry.at) for number in found]
            if entry.kind in ("fall", "review"):
                self._await_review(entry)
        if facts.mode is not None:
            self._note_mode(entry, facts.mode)
        self._note(entry)

    def _two_knees(self, entry: Entry, raw: list[Raw]) -> set[int]:
        """The rules of the document that the entry breaks in the sequence of either knee."""
        if entry.rank and any(entry.at_us > one.next_due for one in self._deadlines):
            self._overdue(entry.at_us, raw)
        broken: set[int] = set()
        for side, knee in enumerate(self._views):
            view = self._compiled.view(entry.shape, knee)
            if view:
                verdicts = watch(self._memories[side], view, entry, self.fold.status_named)
                broken.update(self._broken(verdicts, side, entry))
        return broken

    def _broken(self, verdicts: list[tuple[int, int]], side: int, entry: Entry) -> tuple[int, ...]:
        """The rules that are broken at once; the verdicts of deadlines go into the book of deadlines."""
        broken = []
        for number, verdict in verdicts:
            if number not in self._compiled.deadlines:
                broken.append(number)
                continue
            if verdict & EXPECTED:
                self._has_met(self._deadlines[side].met(number))
            if verdict & BROKEN:
                within = self._compiled.programs[number].rule.within
                self._deadlines[side].await_(number, entry, entry.at, within)
        return tuple(broken)

    def _await_review(self, entry: Entry) -> None:
        number, book = self._compiled.first_builtin + FALL_UNREVIEWED, self._deadlines[0]
        if entry.kind == "fall":
            book.await_(number, entry, entry.at, self.fold.plan.fall_review)
        else:
            self._has_met(book.met_for(number, entry.get("of")))

    def _has_met(self, met: list[Pending]) -> None:
        for one in met:
            if not any(one == other for book in self._deadlines for other in book.open.get(str(one[1]), ())):
                self.met.append((self._compiled.rule_keys[one[1]], one[5]))

    def _overdue(self, at: int, raw: list[Raw]) -> None:
        late = {tuple(one[1:]) for book in self._deadlines for one in book.overdue(at)}
        raw += [_raw_pending(one) for one in late]

    def _pending_at(self, at: int) -> list[Raw]:
        late = {
            tuple(one[1:]) for book in self._deadlines for rule in book.open.values() for one in rule if one[0] < at
        }
        return [_raw_pending(one) for one in late]

    def _note_mode(self, entry: Entry, event: Any) -> None:
        for side in (0, 1):
            if event.knees >> side & 1:
                self.fold.modes[side] = [event.mode, event.proof, entry.at, entry.by]

    def _note(self, entry: Entry) -> None:
        """Remember how far the record goes, in order and in time."""
        if entry.rank:
            self._last = entry[:4] if self._last is None or entry[:4] > self._last else self._last
        if entry.kind != "struck_out":
            self.number += 1
        if self._now is None or entry.at_us > self._now[0] or (entry.at_us == self._now[0] and entry[:4] == self._last):
            self._now = entry.at_us, entry.at

    def _alerts(self, raw: list[Raw]) -> list[Alert]:
        keys, severities = self._compiled.rule_keys, self._compiled.severities
        return [Alert(keys[one[5]], one[4], one[6], severities[one[5]]) for one in sorted(raw)]

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

    def statuses(self, at: datetime | str) -> dict[str, "reasons.SkillStatus"]:
        """Every skill with its status and the reasons in plain words, at an instant not before the last entry."""
        return reasons.statuses(self.fold, instant.of(at))

    def knees(self) -> list[KneeState]:
        """The mode of the knee, or of the left and of the right one."""
        sides = ("left", "right") if self._both else (None,)
        return [KneeState(side, *state) for side, state in zip(sides, self.fold.modes, strict=False)]

    # -- snapshot -----------------------------------------------------------------------------------------------------

    def snapshot(self) -> bytes:
        """The state as JSON: a few kB, whatever the number of entries."""
        state = [
            _VERSION, self.protocol.digest, self.reference, self._both, self.number, self._last, self._now, self._waiting,
            self.fold.dump(), [_packed(memory) for memory in self._memories], [book.open for book in self._deadlines],
        ]  # fmt: skip
        return orjson.dumps(state)

    @classmethod
    def restore(cls, protocol: Protocol, snapshot: bytes | str) -> "Episode":
        """Take an episode up from its snapshot; raises StaleSnapshot where the protocol or the form is another."""
        version, digest, *state = orjson.loads(snapshot)
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
        self._memories = [_unpacked(memory) for memory in memories]
        self._deadlines = [Deadlines(open_) for open_ in books]
        return self


def _raw_pending(one: tuple[Any, ...]) -> Raw:
    """A missed deadline as a break of its rule at its entry."""
    number, at_us, seq, rank, id_, at = one
    return (rank != 0, at_us, seq, rank, id_, number, at)


def _packed(memory: list[Any]) -> list[Any]:
    """Memories as JSON that every reader takes up exactly: an automaton of more than 62 bits becomes a text."""
    return [str(one) if isinstance(one, int) and one >= 1 << 62 else one for one in memory]


def _unpacked(memory: list[Any]) -> list[Any]:
    return [int(one) if isinstance(one, str) else one for one in memory]
