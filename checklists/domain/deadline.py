"""Deadlines: danger by absence. What is awaited, until when, and what has become certain (SEMANTICS.md §3 and §4)."""

from datetime import datetime
from typing import Any, NamedTuple

from .fold import NEVER
from .instant import at_microseconds

Pending = list[Any]  # [due in microseconds, rule number, at in microseconds, seq, rank, id, at]


class Deadline(NamedTuple):
    """An open deadline: the rule is broken at the entry once an instant after `due_us` is reached."""

    rule: str
    entry: str
    at: str
    due_us: int
    severity: str

    @property
    def due(self) -> datetime:
        """`due_us` as an instant in UTC."""
        return at_microseconds(self.due_us)


class Deadlines:
    """The open deadlines of one sequence of entries, by rule number."""

    __slots__ = ("next_due", "open")

    def __init__(self, open_: dict[str, list[Pending]] | None = None) -> None:
        self.open = open_ if open_ is not None else {}
        self.next_due = min((one[0] for rule in self.open.values() for one in rule), default=NEVER)

    def dump(self) -> dict[str, list[Pending]]:
        """What is open as plain JSON, in the order of the rules."""
        return dict(sorted(self.open.items(), key=lambda one: int(one[0])))

    def await_(self, rule: int, entry: tuple[Any, ...], at: str, within: int) -> None:
        """Something is expected within a time after this entry (the first four parts of an Entry are its place)."""
        due = entry[0] + within
        self.open.setdefault(str(rule), []).append([due, rule, *entry[:4], at])
        self.next_due = min(self.next_due, due)

    def met(self, rule: int) -> list[Pending]:
        """What was expected came (what is overdue has been taken out by `overdue` before): nothing is open any more."""
        return self.open.pop(str(rule), [])

    def met_for(self, rule: int, ids: list[str]) -> list[Pending]:
        """What was expected came for these entries only."""
        kept: list[Pending] = []
        met: list[Pending] = []
        for one in self.open.get(str(rule), ()):
            (met if one[5] in ids else kept).append(one)
        if met:
            self._keep(str(rule), kept)
        return met

    def overdue(self, at: int) -> list[Pending]:
        """Take out what an entry at this instant makes certain: nothing in order can come in time any more."""
        late: list[Pending] = []
        for rule in list(self.open):
            late += [one for one in self.open[rule] if one[0] < at]
            self._keep(rule, [one for one in self.open[rule] if one[0] >= at])
        self.next_due = min((one[0] for rule in self.open.values() for one in rule), default=NEVER)
        return late

    def _keep(self, rule: str, kept: list[Pending]) -> None:
        if kept:
            self.open[rule] = kept
        else:
            del self.open[rule]
