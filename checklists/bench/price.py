"""What a change would set back, worked out before it is made: by the same fold that will judge it.

Pure: two folds of the same episode are given, one of which has taken the change.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from checklists.domain import Episode
from checklists.domain.reasons import SkillStatus
from checklists.pictures import Tread, names, treads

BEGUN = ("training", "ready")
MOST_NAMED = 3


@dataclass(frozen=True, slots=True)
class Moved:
    """A skill that the change would set back, and what would be needed then."""

    key: str
    name: str
    before: str
    after: str
    why: str

    @property
    def waits(self) -> bool:
        """Whether it stays signed off, on ground that does not."""
        return self.before == self.after == "signed_off"


@dataclass(frozen=True, slots=True)
class Price:
    """What a change costs.

    `back`: skills whose signature stands and that must be proven again; `rest`: the skills that wait for those: their
    status alters with them, or they stay signed off on ground that does not; `anew_keys`: other skills in training
    whose evidence begins anew; `first`: what must then be done before anything; `until_keys`: skills that nothing
    sets back, and that may yet not be tried as now before that is done.
    """

    back: tuple[Moved, ...]
    rest: tuple[Moved, ...]
    anew_keys: tuple[str, ...]
    first: tuple[str, ...]
    until_keys: tuple[str, ...]
    now: Sequence[Tread]
    then: Sequence[Tread]

    @property
    def anew(self) -> tuple[str, ...]:
        """Their names."""
        return tuple(_name(key) for key in self.anew_keys)

    @property
    def until(self) -> tuple[str, ...]:
        """The names of those that wait as well."""
        return tuple(_name(key) for key in self.until_keys)

    @property
    def rows(self) -> tuple[Moved, ...]:
        """Every skill that is set back: themselves first, then those that rest on them."""
        return self.back + self.rest


def price(now: Episode, then: Episode, instant: datetime) -> Price:
    """The price of a change: `then` is the same episode as `now` with the change in it. `instant` is not before the
    last entry of either."""
    before, after = now.statuses(instant), then.statuses(instant)
    moved = [key for key in before if before[key].status != after[key].status]
    back = [key for key in moved if after[key].status == "suspended"]
    rest = [key for key in before if key not in back and (key in moved or _on_loose_ground(before[key], after[key]))]
    known = {sentence.sentence for sentence in now.check_first(instant)}
    others = [key for key in before if key not in (*back, *rest) and before[key].status in (*BEGUN, "signed_off")]
    document = now.protocol.document
    return Price(
        back=tuple(_moved(key, before[key], after[key]) for key in back),
        rest=tuple(_moved(key, before[key], after[key]) for key in rest),
        anew_keys=tuple(key for key in before if key not in rest and _begins_anew(before[key], after[key])),
        first=tuple(one.sentence for one in then.check_first(instant) if one.sentence not in known),
        until_keys=tuple(
            key for key in others if _breaks(then, after[key], key, instant) - _breaks(now, before[key], key, instant)
        ),
        now=_treads(document, before, both=now.both),
        then=_treads(document, after, both=now.both),
    )


def _breaks(fold: Episode, stands: SkillStatus, key: str, instant: datetime) -> set[str]:
    """The rules that an attempt of a skill would break as it stands, with somebody beside."""
    planned = {"skill": key, "support": stands.allowed, "help": fold.protocol.beside}
    return {one.rule for one in fold.advise(planned, at=instant).breaks}


def _on_loose_ground(before: SkillStatus, after: SkillStatus) -> bool:
    """Whether a signature stands, but no longer everything that it builds on: trying it would break `prerequisite`."""
    return after.status == "signed_off" and set(after.missing) > set(before.missing)


def _moved(key: str, before: SkillStatus, after: SkillStatus) -> Moved:
    waits = [_name(one) for one in after.missing if one not in before.missing]
    if after.status in ("blocked", "signed_off") and waits:
        why = _waiting(waits)
    else:
        why = after.reasons[0] if after.status in ("blocked", "not_applicable") else after.reasons[-1]
    return Moved(key, _name(key), before.status, after.status, why)


def _waiting(names: Sequence[str]) -> str:
    more, named = len(names) - MOST_NAMED, ", ".join(names[:MOST_NAMED])
    if more > 0:
        return _("waits until proven again: {skills} and {n} more").format(skills=named, n=more)
    said = ngettext("waits until this is proven again: {skills}", "waits until proven again: {skills}", len(names))
    return said.format(skills=named)


def _begins_anew(before: SkillStatus, after: SkillStatus) -> bool:
    """Whether safe attempts that counted towards a first sign-off would no longer count."""
    gathered = before.status in BEGUN and (before.run > 0 or before.stage > 0 or before.met)
    return gathered and after.status in BEGUN and (after.stage, after.run) < (before.stage, before.run)


def _name(key: str) -> str:
    return names.short(key, key.replace("_", " "))


def _treads(document: Mapping[str, Any], statuses: Mapping[str, SkillStatus], *, both: bool) -> list[Tread]:
    return treads(document, {key: status._asdict() for key, status in statuses.items()}, both=both)
