"""An entry of the record: a fact that somebody saw or did, held compactly (SEMANTICS.md §1)."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from typing import Any, NamedTuple

from . import instant
from .kinds import defaults
from .shape import Shape


class Entry(NamedTuple):
    """An accepted entry. Entries compare in the order of the record (instant, seq, kind, id); the opening stands apart.

    What few entries differ in (kind, skill, support, …) is in the shared `shape`; `rest` holds the other fields that
    were sent (texts, measures, ids), or None.
    """

    at_us: int
    seq: int
    rank: int
    id: str
    shape: Shape
    day: int
    at: str
    episode: str
    by: str
    rest: dict[str, Any] | None

    @property
    def kind(self) -> str:
        """The kind, such as `attempt`."""
        return self.shape.kind

    @property
    def instant(self) -> datetime:
        """When it happened, in UTC."""
        return instant.at_microseconds(self.at_us)

    def get(self, name: str, default: Any = None) -> Any:
        """A field as sent, the defaults of SEMANTICS.md §1 filled in."""
        if name in self.shape.fields:
            return self.shape.fields[name]
        if self.rest is not None and name in self.rest:
            return self.rest[name]
        if name in ("id", "at", "episode", "by", "seq"):
            return getattr(self, name)
        return defaults(self.shape.kind).get(name, default)

    def content(self) -> dict[str, Any]:
        """The whole entry as one JSON object, defaults filled in."""
        own = {"id": self.id, "episode": self.episode, "at": self.at, "by": self.by}
        return {**own, **defaults(self.shape.kind), "seq": self.seq, **self.shape.fields, **(self.rest or {})}

    def same_as(self, other: Entry) -> bool:
        """Whether the other entry under this id is the same one (SEMANTICS.md §1, 'Same id')."""
        return same_content(self.content(), other.content())


def same_content(a: Mapping[str, Any], b: Mapping[str, Any]) -> bool:
    """Whether two entries are equal as sent: after defaults, without `role`, numbers by value (SEMANTICS.md §1)."""
    return _equal(_comparable(a), _comparable(b))


def _comparable(entry: Mapping[str, Any]) -> dict[str, Any]:
    kind = entry.get("kind")
    whole = {**defaults(kind if isinstance(kind, str) else None), **entry}
    whole.pop("role", None)
    return whole


def _equal(a: Any, b: Any) -> bool:
    if isinstance(a, Mapping):
        return (
            isinstance(b, Mapping) and a.keys() == b.keys() and all(_equal(value, b[name]) for name, value in a.items())
        )
    if isinstance(a, list | tuple):
        return isinstance(b, list | tuple) and len(a) == len(b) and all(map(_equal, a, b))
    return isinstance(a, bool) == isinstance(b, bool) and bool(a == b)
