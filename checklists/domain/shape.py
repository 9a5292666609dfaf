"""Shapes: everything about an entry that few entries differ in, worked out once for all that share it.

The kind and the closed-list fields of an entry (skill, support, help, result, deviations, steps, …) decide which
atoms of the rules it has and what it can change. A record of a million entries has a few thousand shapes.
"""

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any, Literal

from .atom import CLOSED_FIELDS
from .kinds import FIELDS, RANK, WITH_SKILL

if TYPE_CHECKING:
    from .facts import AttemptFacts, Facts
    from .monitor import View
    from .protocol import Protocol

SHAPED = CLOSED_FIELDS - {"tags"}
"""The names of the fields that belong to a shape (`kind` and `role` among them)."""
_KEPT = 50_000  # shapes remembered; a record of more (all deviations in all orders) is only read more slowly


class Shape:
    """The closed fields of an entry under one protocol, with what follows from them (filled in by compiled.py)."""

    __slots__ = ("facts", "fields", "kind", "known_fields", "protocol", "rank", "skill", "tags", "views")

    def __init__(self, protocol: "Protocol", fields: dict[str, Any]) -> None:
        self.protocol = protocol
        self.fields = fields
        self.kind: str = fields["kind"]
        self.rank = RANK[self.kind]
        named = fields.get("skill") if self.kind in WITH_SKILL else None
        self.skill: str | None = named if named in protocol.skills else None  # a word the document has lost names none
        self.tags = frozenset(protocol.skills[self.skill].tags) if self.skill else frozenset()
        self.known_fields = FIELDS[self.kind]
        self.facts: list[Facts | AttemptFacts | None] = [None, None]  # for a person with one prosthesis, with two
        self.views: list[View | Literal[False] | None] = [None, None, None]  # of the only knee, the left, the right


class Shapes:
    """The shapes of one protocol, each made once."""

    def __init__(self, protocol: "Protocol") -> None:
        self._protocol = protocol
        self._known: dict[tuple[Any, ...], Shape] = {}

    def of(self, entry: Mapping[str, Any]) -> Shape:
        """The shape of an entry that has been checked."""
        fields = {name: value for name, value in entry.items() if name in SHAPED}
        key = tuple((name, _frozen(value)) for name, value in sorted(fields.items()))
        found = self._known.get(key)
        if found is None:
            if len(self._known) >= _KEPT:
                self._known.clear()
            found = self._known[key] = Shape(self._protocol, fields)
        return found


def _frozen(value: Any) -> Any:
    if isinstance(value, dict):
        return tuple(value.items())
    return tuple(value) if isinstance(value, list) else value
