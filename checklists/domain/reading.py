"""From a JSON object to an Entry: the careful way for every new shape, a short way for what has been seen before."""

from datetime import datetime
from typing import TYPE_CHECKING, Any

from . import instant
from .entry import Entry
from .entry_check import Reception, check_entry
from .shape import SHAPED, Shapes

if TYPE_CHECKING:
    from .protocol import Protocol

SLOTS = frozenset({"id", "at", "episode", "by", "seq"})


def parse_entry(
    obj: Any, protocol: "Protocol", *, now: datetime | None = None, both: bool = False, signing: bool = False
) -> Entry:
    """Check one entry by itself and hold it compactly; raises EntryRefused (SEMANTICS.md §1).

    Without `now` the entry is read as in a replay. With `now` (aware) it is received by the server, which refuses more:
    instants in the future, texts and numbers out of bounds, unknown deviations, a missing knee where `both`, and a
    sign-off or its withdrawal unless `signing` (the signing service, an import).
    """
    reception = Reception(instant.of(now)[0], both, signing) if now is not None else None
    check_entry(obj, protocol, reception)
    return make_entry(obj, protocol.compiled.shapes)


def make_entry(obj: dict[str, Any], shapes: Shapes) -> Entry:
    """An Entry of an object that has been checked."""
    shape = shapes.of(obj)
    at_us, day = instant.read(obj["at"])
    rest = {name: value for name, value in obj.items() if name not in SHAPED and name not in SLOTS}
    return Entry(
        at_us=at_us,
        seq=int(obj.get("seq", 0)),
        rank=shape.rank,
        id=obj["id"],
        shape=shape,
        day=day,
        at=obj["at"],
        episode=obj["episode"],
        by=obj["by"],
        rest=rest or None,
    )
