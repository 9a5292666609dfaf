"""Formulas of past-time metric temporal logic: what they are, and how a document's are read (SEMANTICS.md §3)."""

from dataclasses import dataclass
from typing import Any

from . import instant
from .atom import Atom, read_atom
from .kinds import STATUSES
from .places import Spot
from .vocabulary import Vocabulary

DEEPEST = 100  # levels of nesting; nobody can read more, and reading must not exhaust the stack


@dataclass(frozen=True, slots=True)
class Status:
    """The status of a skill, just before the entry and at its instant, is in the list.

    `skill` None: the entry's own.
    """

    among: tuple[str, ...]
    skill: str | None


@dataclass(frozen=True, slots=True)
class Not:
    """F is false."""

    of: "Formula"


@dataclass(frozen=True, slots=True)
class AllOf:
    """All of them hold; true of none."""

    of: tuple["Formula", ...]


@dataclass(frozen=True, slots=True)
class AnyOf:
    """One of them holds; false of none."""

    of: tuple["Formula", ...]


@dataclass(frozen=True, slots=True)
class Previous:
    """There is an entry before, and F held there."""

    of: "Formula"


@dataclass(frozen=True, slots=True)
class Once:
    """Also `historically`, which is read as `not once not`. `within` is in microseconds."""

    of: "Formula"
    within: int | None


@dataclass(frozen=True, slots=True)
class Since:
    """`began` held at some entry, and `held` at every one after it; `within` bounds how long ago `began` was."""

    held: "Formula"
    began: "Formula"
    within: int | None


@dataclass(frozen=True, slots=True)
class Count:
    """How many entries strictly before had F."""

    of: "Formula"
    at_least: int | None
    at_most: int | None
    after: "Formula | None"
    same_skill: bool
    within: int | None

    @property
    def cap(self) -> int:
        """No verdict depends on how far a count goes beyond this."""
        return max(self.at_least or 0, -1 if self.at_most is None else self.at_most + 1)


Formula = Atom | Status | Not | AllOf | AnyOf | Previous | Once | Since | Count

_OPTIONS: dict[str, tuple[str, ...]] = {
    "entry": (), "status": ("skill",), "not": (), "all": (), "any": (), "previous": (), "once": ("within",),
    "historically": ("within",), "since": ("within",),
    "count": ("at_least", "at_most", "after", "same_skill", "within"),
}  # fmt: skip  # a table, read by row


def read_formula(spot: Spot, words: Vocabulary, depth: int = 0) -> Formula:
    """Read a formula, refusing an unknown or a second operator and everything that no entry could match."""
    if depth > DEEPEST:
        spot.refuse("nested too deeply")
    if not isinstance(spot.value, dict):
        spot.refuse("must be an object with one operator")
    found = [name for name in spot.value if name in _OPTIONS]
    if len(found) != 1:
        spot.refuse("has no operator" if not found and not spot.value else _wrong_operators(spot.value, found))
    operator = found[0]
    parts = spot.fields([operator], _OPTIONS[operator])
    inner = parts[operator]
    if operator == "entry":
        return read_atom(inner, words)
    if operator == "status":
        return _status(inner, parts.get("skill"), words)
    if operator in ("all", "any"):
        read = tuple(read_formula(item, words, depth + 1) for item in inner.items())
        return AllOf(read) if operator == "all" else AnyOf(read)
    if operator == "count":
        return _count(spot, parts, words, depth)
    within = _within(parts)
    if operator == "since":
        pair = inner.items()
        if len(pair) != 2:
            inner.refuse("must be [held since, began]")
        return Since(read_formula(pair[0], words, depth + 1), read_formula(pair[1], words, depth + 1), within)
    of = read_formula(inner, words, depth + 1)
    if operator == "historically":
        return Not(Once(Not(of), within))
    return Not(of) if operator == "not" else Previous(of) if operator == "previous" else Once(of, within)


def _wrong_operators(value: dict[str, Any], found: list[str]) -> str:
    if not found:
        return f"unknown operator {next(iter(value))!r}"
    return f"a second operator {found[1]!r} beside {found[0]!r}"


def _status(among: Spot, skill: Spot | None, words: Vocabulary) -> Status:
    return Status(among.words(STATUSES, "status"), skill.choice(words.rungs, "skill") if skill else None)


def _count(spot: Spot, parts: dict[str, Spot], words: Vocabulary, depth: int) -> Count:
    if "at_least" not in parts and "at_most" not in parts:
        spot.refuse("needs at_least or at_most")
    after = parts.get("after")
    return Count(
        of=read_formula(parts["count"], words, depth + 1),
        at_least=parts["at_least"].integer(0) if "at_least" in parts else None,
        at_most=parts["at_most"].integer(0) if "at_most" in parts else None,
        after=read_formula(after, words, depth + 1) if after else None,
        same_skill=parts["same_skill"].flag() if "same_skill" in parts else False,
        within=_within(parts),
    )


def _within(parts: dict[str, Spot]) -> int | None:
    return read_within(parts["within"]) if "within" in parts else None


def read_within(spot: Spot) -> int:
    """A duration in microseconds."""
    text = spot.text()
    try:
        return instant.read_duration(text)
    except ValueError as fault:
        spot.refuse(str(fault))
