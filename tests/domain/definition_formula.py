"""Formulas and the document's rules: SEMANTICS.md section 3, read aloud (naive reference implementation)."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime, timedelta
from typing import Any

from tests.domain.definition_fold import Entry, Fold, inside, when
from tests.domain.definition_words import HAVE_TAGS, is_number, same, seconds

Formula = dict[str, Any]


class Sequence:
    """The entries that a rule is judged over; `places` says where each stands in the whole record."""

    def __init__(self, fold: Fold, entries: list[Entry], places: list[int]) -> None:
        self.fold, self.entries, self.places = fold, entries, places
        self._known: dict[tuple[int, int], bool] = {}  # by the formula's place in memory: the fold holds its document

    def true(self, formula: Formula, i: int) -> bool:
        """Whether a formula is true at index i; each is asked about many times and worked out once."""
        asked = (id(formula), i)
        if asked not in self._known:
            self._known[asked] = self._true(formula, i)
        return self._known[asked]

    def _true(self, formula: Formula, i: int) -> bool:
        if "entry" in formula:
            return self.atom(formula["entry"], i)
        if "status" in formula:
            return self.status(formula, i)
        if "not" in formula:
            return not self.true(formula["not"], i)
        if "all" in formula:
            return all(self.true(one, i) for one in formula["all"])
        if "any" in formula:
            return any(self.true(one, i) for one in formula["any"])
        if "previous" in formula:
            return i > 0 and self.true(formula["previous"], i - 1)
        looked_at = self.looked_at(formula, i)
        if "once" in formula:
            return any(self.true(formula["once"], j) for j in looked_at)
        if "historically" in formula:
            return all(self.true(formula["historically"], j) for j in looked_at)
        if "since" in formula:
            a, b = formula["since"]
            return any(self.true(b, j) and all(self.true(a, k) for k in range(j + 1, i + 1)) for j in looked_at)
        return self.count(formula, i, [j for j in looked_at if j < i])

    def looked_at(self, formula: Formula, i: int) -> list[int]:
        """The j <= i with at(i) - at(j) <= within."""
        if "within" not in formula:
            return list(range(i + 1))
        bound = timedelta(seconds=seconds(formula["within"]) or 0)
        now = when(self.entries[i])
        return [j for j in range(i + 1) if now - when(self.entries[j]) <= bound]

    def count(self, formula: Formula, i: int, before: Iterable[int]) -> bool:
        if "after" in formula:
            breaks = [k for k in range(i) if self.true(formula["after"], k)]
            before = [j for j in before if not breaks or j > breaks[-1]]
        if formula.get("same_skill"):
            own = self.entries[i].get("skill")
            before = [j for j in before if own is not None and self.entries[j].get("skill") == own]
        number = sum(1 for j in before if self.true(formula["count"], j))
        return bool(formula.get("at_least", 0) <= number <= formula.get("at_most", number))

    def status(self, formula: Formula, i: int) -> bool:
        """Asked of the fold of the whole record, just before the entry and at its instant."""
        skill = formula.get("skill", self.entries[i].get("skill"))
        if skill is None:
            return False
        return self.fold.status(skill, self.places[i], when(self.entries[i])) in formula["status"]

    def atom(self, atom: dict[str, Any], i: int) -> bool:
        return all(self.field(name, wanted, self.entries[i]) for name, wanted in atom.items())

    def field(self, name: str, wanted: Any, entry: Entry) -> bool:
        if name == "tags":
            if entry["kind"] not in HAVE_TAGS or "skill" not in entry:
                return False
            held = self.fold.skills[entry["skill"]]["tags"]
        elif name not in entry:
            return False
        else:
            held = entry[name]
        if name == "steps":
            return all(step in held and held[step] is value for step, value in wanted.items())
        if name == "measures":
            return all(m in held and is_number(held[m]) and inside(held[m], bounds) for m, bounds in wanted.items())
        values = wanted if isinstance(wanted, list) else [wanted]
        members = held if isinstance(held, list) else [held]
        return any(same(member, value) for member in members for value in values)


def sequences(fold: Fold) -> list[Sequence]:
    """One sequence; for a person who is `both`, one for each knee."""
    if not fold.both:
        return [Sequence(fold, fold.entries, list(range(len(fold.entries))))]
    found = []
    for other in ["right", "left"]:
        kept = [(i, _as_read_in_both(e, fold)) for i, e in enumerate(fold.entries) if e.get("knee") != other]
        kept = [(i, entry) for i, entry in kept if entry is not None]
        found.append(Sequence(fold, [e for _, e in kept if e is not None], [i for i, _ in kept]))
    return found


def _as_read_in_both(entry: Entry, fold: Fold) -> Entry | None:
    """An entry that names no knee, as the sequence of each knee has it; None where it stands in neither."""
    if "knee" in entry:
        return entry
    if entry["kind"] == "mode_checked" and entry["ok"] is True:
        read = {name: value for name, value in entry.items() if name != "ok"}
        return {**read, "kind": "mode_set"}
    asks_one_knee = entry["kind"] == "check" and fold.document["checks_by_key"][entry["name"]]["per_knee"]
    return None if asks_one_knee and False not in entry["steps"].values() else entry


def broken_at(rule: dict[str, Any], fold: Fold, until: datetime | None) -> set[int]:
    """Places in the whole record at which a rule of the document is broken; deadlines as reported at `until`."""
    return {sequence.places[i] for sequence in sequences(fold) for i in _broken_in(rule, sequence, until)}


def _broken_in(rule: dict[str, Any], sequence: Sequence, until: datetime | None) -> list[int]:
    entries, found = sequence.entries, []
    for i in range(len(entries)):
        if not sequence.true(rule["when"], i):
            continue
        if "require" in rule:
            if not sequence.true(rule["require"], i):
                found.append(i)
            continue
        within = timedelta(seconds=seconds(rule["within"]) or 0)
        met = any(
            when(entries[j]) - when(entries[i]) <= within and sequence.true(rule["expect"], j)
            for j in range(i + 1, len(entries))
        )
        if not met and until is not None and until > when(entries[i]) + within:
            found.append(i)
    return found
