"""The atom of a formula, `{"entry": {field: value, …}}`: what it may name, which entries have it (SEMANTICS.md §3)."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

from .kinds import FIELDS, KINDS, UNJUDGED, WITH_SKILL, Field
from .places import Spot
from .vocabulary import Vocabulary

LISTS = frozenset({"tags", "deviations", "features", "of"})  # one common member is enough
_JUDGED = tuple(kind for kind in KINDS if kind not in UNJUDGED)


@dataclass(frozen=True, slots=True)
class Atom:
    """Tests on fields: `values` by field, `steps` and `measures` by name.

    `closed` tests ask only what few entries differ in.
    """

    values: tuple[tuple[str, tuple[Any, ...]], ...]
    steps: tuple[tuple[str, bool], ...] = ()
    measures: tuple[tuple[str, float | None, float | None], ...] = ()
    asks_steps: bool = False
    asks_measures: bool = False

    @property
    def closed(self) -> bool:
        """Whether the verdict follows from the shape of an entry alone (see shape.py)."""
        return not self.asks_measures and all(name in CLOSED_FIELDS for name, _ in self.values)

    @property
    def closed_part(self) -> "Atom":
        """The tests that a shape decides; where they fail, the atom is false for all entries of the shape."""
        values = tuple(value for value in self.values if value[0] in CLOSED_FIELDS)
        return Atom(values, self.steps, (), self.asks_steps, False)

    def holds(self, entry: Mapping[str, Any], tags: frozenset[str]) -> bool:
        """Whether an entry, defaults filled in, has every named field with one of the values."""
        for name, wanted in self.values:
            if name == "tags":
                if tags.isdisjoint(wanted):
                    return False
            elif name not in entry or not _has(name, entry[name], wanted):
                return False
        if self.asks_steps and not self._steps_hold(entry):
            return False
        return not self.asks_measures or self._measures_hold(entry)

    def _steps_hold(self, entry: Mapping[str, Any]) -> bool:
        done = entry.get("steps")
        return done is not None and all(done.get(name) is value for name, value in self.steps)

    def _measures_hold(self, entry: Mapping[str, Any]) -> bool:
        taken = entry.get("measures")
        return taken is not None and all(inside(taken.get(name), low, high) for name, low, high in self.measures)


CLOSED_FIELDS = frozenset(
    {"kind", "tags", "steps"}
    | {
        field.name
        for fields in FIELDS.values()
        for field in fields.values()
        if field.type in ("choice", "choices", "skill", "support", "rung", "help", "deviations", "check", "flag")
    }
)


def inside(value: float | None, low: float | None, high: float | None) -> bool:
    """Whether a measure is there and within a closed range; a null end is open."""
    return value is not None and (low is None or value >= low) and (high is None or value <= high)


def _has(name: str, value: Any, wanted: tuple[Any, ...]) -> bool:
    if name in LISTS:
        return any(member in wanted for member in value)
    return any(value == one and isinstance(value, bool) == isinstance(one, bool) for one in wanted)


def read_atom(spot: Spot, words: Vocabulary) -> Atom:
    """Read an atom, refusing every field and value that none of its kinds could have."""
    if not isinstance(spot.value, dict):
        spot.refuse("must be an object of fields")
    kinds = _kinds(spot)
    names = spot.value.get("name") if "check" in kinds else None
    values: list[tuple[str, tuple[Any, ...]]] = []
    steps: tuple[tuple[str, bool], ...] = ()
    measures: tuple[tuple[str, float | None, float | None], ...] = ()
    for name in spot.value:
        inner = spot.at(name)
        if name == "tags" and WITH_SKILL.isdisjoint(kinds):
            inner.refuse("none of these kinds has tags")
        found = [FIELDS[kind][name] for kind in kinds if name in FIELDS[kind]]
        if name not in ("tags", "kind") and not found:
            inner.refuse("none of these kinds has this field")
        if name == "steps":
            steps = _steps(inner, names, words)
        elif name == "measures":
            ranges = inner.ranges(words.measures)
            measures = tuple((key, _plain(low), _plain(high)) for key, (low, high) in sorted(ranges.items()))
        elif name == "kind":
            values.append((name, kinds))
        elif name == "tags":
            values.append((name, _listed(inner, lambda one: one.choice(words.tags, "tag (no skill carries it)"))))
        else:
            values.append((name, _listed(inner, _reader(found, words))))
    asked = spot.value.keys()
    values.sort(key=lambda value: value[0])  # equal however the document was written: snapshots are laid out by it
    return Atom(tuple(values), steps, measures, "steps" in asked, "measures" in asked)


def _kinds(spot: Spot) -> tuple[str, ...]:
    if "kind" not in spot.value:
        return _JUDGED
    return _listed(spot.at("kind"), lambda one: one.choice(_JUDGED, "kind"))


def _listed(spot: Spot, read: Callable[[Spot], Any]) -> tuple[Any, ...]:
    if isinstance(spot.value, list):
        return tuple(read(item) for item in spot.items())
    return (read(spot),)


def _steps(spot: Spot, names: Any, words: Vocabulary) -> tuple[tuple[str, bool], ...]:
    if not isinstance(spot.value, dict):
        spot.refuse("must be an object of steps")
    asked = [names] if isinstance(names, str) else names
    if not isinstance(asked, list) or not all(name in words.checks for name in asked if isinstance(name, str)):
        asked = list(words.checks)  # no name, or one that is refused at its own place
    known = {step for name in asked if isinstance(name, str) for step in words.checks[name]}
    for name in spot.value:
        if name not in known:
            spot.at(name).refuse(f"unknown step {name!r}")
    return tuple(sorted((name, spot.at(name).flag()) for name in spot.value))


def _reader(fields: list[Field], words: Vocabulary) -> Callable[[Spot], Any]:
    """How one value of a field is read: closed lists hold, other fields take any value of their type."""
    lists = {
        "skill": words.rungs,
        "help": words.help,
        "deviations": words.deviations,
        "check": words.checks,
    }
    types = {field.type for field in fields}
    for known in (lists[type_] for type_ in types if type_ in lists):
        return lambda one: one.choice(known, fields[0].name)
    if fields[0].choices:
        return lambda one: one.choice(fields[0].choices, fields[0].name)
    if types & {"support", "rung"}:
        return lambda one: _support(one, words)
    if "flag" in types:
        return Spot.flag
    if types & {"number", "integer"}:
        return lambda one: _plain(one.number())
    return _override if "override" in types else Spot.text


def _support(spot: Spot, words: Vocabulary) -> str:
    if not words.knows_support(spot.text()):
        spot.refuse(f"unknown support {spot.value!r}")
    return str(spot.value)


def _override(spot: Spot) -> dict[str, str]:
    return {name: inner.text() for name, inner in sorted(spot.fields(["by", "reason"]).items())}


def _plain(value: float | None) -> float | None:
    """A whole number as one, however it was written: 1.0 is 1."""
    return int(value) if isinstance(value, float) and value.is_integer() else value
