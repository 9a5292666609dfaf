"""Reading the entries of a replay, many and fast.

Most entries have a shape that was met before: the same field names in the same order with the same closed values. For
those only what differs from entry to entry is checked (id, instant, texts, numbers); every other entry, and every one
in which anything is unusual, goes the careful way of reading.py, which gives the same entry or the refusal.
"""

import json
from collections.abc import Callable
from operator import itemgetter
from typing import TYPE_CHECKING, Any

from . import instant
from .entry import Entry
from .entry_check import UUID
from .reading import SLOTS, parse_entry
from .shape import SHAPED, Shape

if TYPE_CHECKING:
    from .protocol import Protocol

_PLANS_KEPT = 5_000  # orders of field names; more than that is somebody's game and is read carefully
_SHAPES_KEPT = 50_000
_EXACT = 10.0**15  # the fast parser makes larger whole numbers into doubles; the careful way reads them exactly
_QUICK = frozenset({"text", "measures", "number"})  # open fields that are checked here
_make = tuple.__new__


class _Plan:
    """How entries with these field names, in this order, are read. `key` freezes the closed values of an entry."""

    __slots__ = ("has_seq", "key", "numbers", "open", "shapes", "texts")

    def __init__(self, names: tuple[str, ...], types: dict[str, str]) -> None:
        self.key = _freezer(names)
        self.has_seq = "seq" in names
        self.open = tuple(name for name in names if name not in SHAPED and name not in SLOTS)
        self.texts = tuple(name for name in self.open if types[name] == "text")
        self.numbers = tuple(name for name in self.open if types[name] != "text")
        self.shapes: dict[Any, Shape] = {}


class Reader:
    """Reads objects as `parse_entry` does without `now`."""

    def __init__(self, protocol: "Protocol") -> None:
        self._protocol = protocol
        self._plans: dict[tuple[str, ...], _Plan] = {}
        self._staff: dict[str, str] = {}

    def read(self, obj: dict[str, Any], line: bytes) -> Entry:
        """The entry in an object that was parsed from this line; raises EntryRefused."""
        plan = self._plans.get(tuple(obj))
        if plan is not None:
            try:
                shape = plan.shapes[plan.key(obj)]
                id_, by, at, episode = obj["id"], obj["by"], obj["at"], obj["episode"]
                seq = obj["seq"] if plan.has_seq else 0
                texts = UUID.fullmatch(id_) and type(by) is str and type(episode) is str
                if texts and type(seq) is int and (not plan.open or _sound(plan, obj)):
                    at_us, day = instant.read(at)
                    rest = {name: obj[name] for name in plan.open} if plan.open else None
                    by = self._staff.setdefault(by, by)
                    return _make(Entry, (at_us, seq, shape.rank, id_, shape, day, at, episode, by, rest))
            except (KeyError, TypeError, ValueError):
                pass  # the careful way finds out what it is
        return self._carefully(obj, line)

    def _carefully(self, obj: dict[str, Any], line: bytes) -> Entry:
        names = tuple(obj)
        try:
            exact = json.loads(line)
        except RecursionError:  # the fast parser goes a little deeper; no entry is nested like that
            exact = obj
        entry = parse_entry(exact, self._protocol)
        plan = self._plans.get(names)
        if plan is None and len(self._plans) < _PLANS_KEPT:
            types = {name: field.type for name, field in entry.shape.known_fields.items()}
            if all(name in SHAPED or name in SLOTS or types[name] in _QUICK for name in names):
                plan = self._plans[names] = _Plan(names, types)
        if plan is not None:
            if len(plan.shapes) >= _SHAPES_KEPT:
                plan.shapes.clear()
            plan.shapes[plan.key(obj)] = entry.shape
        return entry


def _sound(plan: _Plan, obj: dict[str, Any]) -> bool:
    """Whether the open fields are plainly as they should be."""
    for name in plan.texts:
        if type(obj[name]) is not str:
            return False
    for name in plan.numbers:
        value = obj[name]
        if name == "measures" and type(value) is not dict:
            return False
        for number in value.values() if name == "measures" else (value,):
            if (type(number) is not float and type(number) is not int) or not -_EXACT < number < _EXACT:
                return False
    return True


def _freezer(names: tuple[str, ...]) -> Callable[[dict[str, Any]], Any]:
    """A function that makes the closed values of an entry into a key that no unlike entry shares (1 is not true)."""
    plain = itemgetter(*(name for name in names if name in SHAPED and name not in ("ok", "steps", *_LISTS)))
    lists = [name for name in names if name in _LISTS]
    if lists:
        listed = lists[0]
        return lambda obj: (plain(obj), _as_tuple(obj[listed]))
    if "steps" in names:
        return lambda obj: (plain(obj), _as_items(obj["steps"]))
    if "ok" in names:
        return lambda obj: (plain(obj), _as_flag(obj["ok"]))
    return plain


_LISTS = ("deviations", "features")  # no kind has both


def _as_tuple(value: Any) -> tuple[Any, ...]:
    if type(value) is not list:
        raise TypeError
    return tuple(value)


def _as_items(value: Any) -> tuple[Any, ...]:
    if type(value) is not dict:
        raise TypeError
    for done in value.values():
        _as_flag(done)
    return tuple(value.items())


def _as_flag(value: Any) -> bool:
    if value is not True and value is not False:
        raise TypeError
    return value
