"""What a change would cost an episode as it stands, and a digest of it: so that what is recorded is what was shown."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any
from zoneinfo import ZoneInfo

import rfc8785
from django.utils.translation import gettext as _

from caseload.request.models import Setting
from checklists.bench.price import Price, price
from checklists.domain import Episode as Fold
from checklists.domain.instant import read
from checklists.domain.reading import make_entry
from checklists.person.heads import fold_of
from checklists.person.settings import Change, every_change
from checklists.record import fold
from checklists.record.models import Head
from clinic.errors import Stale

NOBODY = "00000000-0000-0000-0000-000000000000"  # the change has no id yet
CLOCKS = timedelta(minutes=6)  # an entry may stand this far ahead of the server's clock (SEMANTICS.md §1), and one more


@dataclass(frozen=True, slots=True)
class Cost:
    """The price of a change of one setting, what the setting is now (nothing where nobody wrote it down), and every
    change so far. `made`: when the change was made, where that was earlier."""

    setting: str
    made: datetime | None
    value: str
    price: Price
    history: Sequence[Change]

    @property
    def standing(self) -> list[Change]:
        """The changes that hold: not those that were struck out."""
        return [one for one in self.history if not one.struck]

    @property
    def digest(self) -> str:
        """Of what the page shows of it, in no language: given back with the change."""
        shown = {
            "setting": self.setting,
            "made": self.made.isoformat() if self.made else None,
            "value": self.value,
            "skills": [[one.key, one.before, one.after] for one in self.price.rows],
            "anew": list(self.price.anew_keys),
            "first": list(self.price.first),
            "until": list(self.price.until_keys),
        }
        return hashlib.sha256(rfc8785.dumps(shown)).hexdigest()


def cost(head: Head, setting: str, *, at: datetime, made: datetime | None = None) -> Cost:
    """What a change of `setting` would cost now. Its episode and site are loaded with `head`."""
    row, now = head.episode, fold_of(head)
    zone = ZoneInfo(row.site.time_zone)
    history = every_change(row.pk, now.protocol.document)
    change = {"setting": setting, **({"features": list(row.features)} if setting == Setting.KNEE else {})}
    instant = _instant(now, at.astimezone(zone))
    then = _with(head, change, made.astimezone(zone) if made else instant)
    known = _value(history, setting, made, at) if row.side != "both" else ""  # of two knees nobody has said which
    return Cost(setting, made, known, price(now, then, instant), history)


def unless_as_shown(head: Head, setting: str, shown: str, *, at: datetime, made: datetime | None) -> None:
    """Stale where a change would no longer cost what was shown. Asked with the head locked."""
    if cost(head, setting, at=at, made=made).digest != shown:
        raise Stale(
            _("The record has moved on: this now costs something else. Look at it again, then record the change.")
        )


def _value(history: Sequence[Change], setting: str, made: datetime | None, at: datetime) -> str:
    """What a setting was last changed to before a change, as it was written; else what an entry of that change that
    was struck out says it was before; else nothing."""
    of_it = [one for one in history if one.key == setting and one.at <= (made or at)]
    before = next((one.now for one in of_it if not one.struck), "")
    return before or next((one.was for one in of_it if one.struck and one.at == made), "")


def _instant(now: Fold, at: datetime) -> datetime:
    """An instant after the last entry: the present, or a little later where a clock was fast."""
    last = read(now.at)[0] if now.at else None
    return at if last is None or last < read(at.isoformat())[0] else at + CLOCKS


def _with(head: Head, change: Mapping[str, Any], at: datetime) -> Fold:
    """The fold of the episode with the change in it: by a step, or for an earlier one from the start."""
    then = fold_of(head)
    fact = {
        "id": NOBODY,
        "episode": then.reference,
        "kind": "setting_changed",
        "at": at.isoformat(),
        "by": "",
        **change,
    }
    entry = make_entry(fact, then.protocol.compiled.shapes)
    if then.takes(entry):
        then.append(entry)
        return then
    record = fold.stored(then.protocol, head.episode_id)
    return Fold.replay(then.protocol, [*record, entry], reference=then.reference).episode
