"""Which tables are leaves of the ledger, and the canonical bytes of their rows.

A table of the ledger has, besides what it says, three columns: `number` (the order of reception), `leaf` (SHA-256 of
0x00 and the row's canonical bytes, which makes it a leaf after RFC 9162) and `mac` (see mac.py). The canonical bytes
are the RFC 8785 JSON of all columns but the last two; the number is among them, so that a row that is given another
place is another row. Two more members: `format`, which is this description's number, and `table`.

The same bytes come out of Python (for the writer) and out of one SQL expression (for whoever verifies: one text a row).
The app whose table it is describes it and registers it when it is loaded.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from enum import Enum
from typing import Any

from clinic.ledger import canonical
from clinic.ledger.merkle import leaf_hash

FORMAT = 1
_TIME = """'"' || to_char({0} AT TIME ZONE 'UTC', 'YYYY-MM-DD"T"HH24:MI:SS.US"Z"') || '"'"""


class Kind(Enum):
    """What a column holds: how Python writes it, and how SQL does. (`{0}` is the column.)"""

    NUMBER = (str, "{0}::text")
    TEXT = (canonical.text, "to_json({0})::text")
    UUID = (canonical.uuid, """'"' || {0}::text || '"'""")
    MAYBE_UUID = (canonical.maybe_uuid, """coalesce('"' || {0}::text || '"', 'null')""")
    INSTANT = (canonical.instant, _TIME)
    BYTES = (canonical.octets, """'"' || encode({0}, 'hex') || '"'""")
    JSON = (canonical.json, "{0}")

    def __init__(self, python: Callable[[Any], str], sql: str) -> None:
        self.python = python
        self.sql = sql


@dataclass(frozen=True, slots=True)
class Source:
    """One table of the ledger. `code` stands for it where numbers are stored, for ever. `columns`: all of them but leaf
    and mac, each with its kind; `names` says under which member a column stands where that is not its own name."""

    code: int
    table: str
    columns: Mapping[str, Kind]
    names: Mapping[str, str] = field(default_factory=dict)
    _form: str = field(init=False)
    _order: tuple[str, ...] = field(init=False)
    _writers: tuple[Callable[[Any], str], ...] = field(init=False)

    def __post_init__(self) -> None:
        members = {"format": str(FORMAT), "table": canonical.text(self.table)}
        members |= {self.names.get(column, column): "%s" for column in self.columns}
        columns = {self.names.get(column, column): column for column in self.columns}
        ordered = sorted(members)  # ASCII names: this is the order of RFC 8785
        order = tuple(columns[name] for name in ordered if name in columns)
        self._set("_form", "{" + ",".join(f'"{name}":{members[name]}' for name in ordered) + "}")
        self._set("_order", order)
        self._set("_writers", tuple(self.columns[column].python for column in order))

    def _set(self, name: str, value: object) -> None:
        object.__setattr__(self, name, value)  # frozen, and worked out once

    def canonical(self, values: Mapping[str, Any]) -> bytes:
        """The canonical bytes of a row, from its columns by name."""
        written = [write(values[column]) for column, write in zip(self._order, self._writers, strict=True)]
        return (self._form % tuple(written)).encode()

    def leaf(self, values: Mapping[str, Any]) -> bytes:
        """The leaf of a row."""
        return leaf_hash(self.canonical(values))

    def sql(self, alias: str = "") -> str:
        """A SQL expression: the canonical bytes of a row, as one text.

        NULL where a column is NULL that must not be, or an instant is none: such a row was never written by us.
        """
        prefix = f"{alias}." if alias else ""
        first, *fixed = self._form.split("%s")
        pieces = [f"'{first}'"]
        for column, after in zip(self._order, fixed, strict=True):
            pieces += [self.columns[column].sql.format(prefix + column), f"'{after}'"]
        return " || ".join(pieces)


_known: dict[int, Source] = {}


def register(source: Source) -> Source:
    """Make a table one of the ledger. The code of another table: ValueError."""
    if _known.setdefault(source.code, source) is not source:
        raise ValueError(f"{source.table} and {_known[source.code].table} have the same code.")
    return source


def sources() -> list[Source]:
    """All tables of the ledger, by code."""
    return [_known[code] for code in sorted(_known)]


def source_of(code: int) -> Source:
    """The table with this code; none: KeyError."""
    return _known[code]
