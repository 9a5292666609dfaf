"""What a change would set back, worked out before it is made: by the same fold that will judge it, one step further.

Pure: two folds of the same episode are given, one of which takes the change as if it were recorded now.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

from checklists.domain import Episode
from checklists.domain.instant import read
from checklists.domain.reading import make_entry
from checklists.domain.reasons import SkillStatus
from checklists.pictures import Tread, names, treads

NOBODY = "00000000-0000-0000-0000-000000000000"  # the change has no id yet
BEGUN = ("training", "ready")


@dataclass(frozen=True, slots=True)
class Moved:
    """A signed skill that the change would suspend, and what would have to be shown then."""

    key: str
    name: str
    before: str
    after: str
    why: str


@dataclass(frozen=True, slots=True)
class Price:
    """What a change costs.

    `back`: signed skills to be proven again; `others`: status → names of the other skills whose status alters;
    `anew`: skills in training whose evidence begins anew; `first`: what must then be done before anything.
    """

    back: tuple[Moved, ...]
    others: Mapping[str, Sequence[str]]
    anew: tuple[str, ...]
    first: tuple[str, ...]
    now: Sequence[Tread]
    then: Sequence[Tread]

    @property
    def held(self) -> int:
        """How many other skills it moves."""
        return sum(len(names) for names in self.others.values())


def price(now: Episode, then: Episode, change: Mapping[str, Any], *, at: datetime) -> Price:
    """The price of a change. `then` is a second fold of the same episode and is stepped; `at` in the site's zone."""
    last = read(now.at)[0] if now.at else None
    instant = at if last is None or last < _microseconds(at) else at + timedelta(minutes=6)
    fact = {
        "id": NOBODY,
        "episode": now.reference,
        "kind": "setting_changed",
        "at": instant.isoformat(),
        "by": "",
        **change,
    }
    then.append(make_entry(fact, then.protocol.compiled.shapes))
    before, after = now.statuses(instant), then.statuses(instant)
    moved = [key for key in before if before[key].status != after[key].status]
    back = [key for key in moved if before[key].status == "signed_off" and after[key].status == "suspended"]
    known = {sentence.sentence for sentence in now.check_first(instant)}
    document = now.protocol.document
    return Price(
        back=tuple(_moved(key, before[key], after[key]) for key in back),
        others=_others([key for key in moved if key not in back], after),
        anew=tuple(_name(key) for key in before if _begins_anew(before[key], after[key])),
        first=tuple(one.sentence for one in then.check_first(instant) if one.sentence not in known),
        now=_treads(document, before, both=now.both),
        then=_treads(document, after, both=now.both),
    )


def _microseconds(at: datetime) -> int:
    return read(at.isoformat())[0]


def _moved(key: str, before: SkillStatus, after: SkillStatus) -> Moved:
    return Moved(key, _name(key), before.status, after.status, after.reasons[-1])


def _others(keys: Sequence[str], after: Mapping[str, SkillStatus]) -> dict[str, list[str]]:
    found: dict[str, list[str]] = {}
    for key in keys:
        found.setdefault(after[key].status, []).append(_name(key))
    return found


def _begins_anew(before: SkillStatus, after: SkillStatus) -> bool:
    """Whether safe attempts that counted towards a first sign-off would no longer count."""
    gathered = before.status in BEGUN and (before.run > 0 or before.stage > 0 or before.met)
    return gathered and after.status in BEGUN and (after.stage, after.run) < (before.stage, before.run)


def _name(key: str) -> str:
    return names.short(key, key.replace("_", " "))


def _treads(document: Mapping[str, Any], statuses: Mapping[str, SkillStatus], *, both: bool) -> list[Tread]:
    return treads(document, {key: status._asdict() for key, status in statuses.items()}, both=both)
