"""The rows of Today: one a person, with what is next and why, what to check first, what changed, what is overdue."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any
from uuid import UUID

from django.utils.translation import gettext as _
from django.utils.translation import gettext_noop, ngettext

from checklists.pictures import Tread
from checklists.pictures.ministair import summary
from checklists.pictures.words import WORDS
from checklists.words import Spoken, said

OTHER_SIDE = {"left": "right", "right": "left"}


@dataclass(frozen=True, slots=True)
class Due:
    """Something that is overdue or waits: its kind (order.GRAVITY), its mark, its sentence, and where to go.

    `many`: how many things it stands for; `way`: the address itself, where `link` names none.
    """

    kind: str
    mark: str
    text: str
    link: str = ""
    skill: str = ""
    detail: str = ""
    many: int = 1
    way: str = ""


@dataclass(frozen=True, slots=True)
class Next:
    """What is safe to try next: the skill, where, and why."""

    skill: str
    name: str
    support: str
    hand: str
    why: str
    waits: bool = False  # for whoever leads it: it is not the reader's


@dataclass(frozen=True, slots=True)
class Call:
    """One planned session of today."""

    episode_id: UUID
    starts_at: datetime
    minutes: int
    state: str  # planned, now, done, missed
    state_words: str
    person: str
    number: str
    second_identifier: str
    age: int
    side: str
    features: str
    staff: str  # with whom they come, in words
    treads: Sequence[Tread]
    next: Next | None
    check_first: Sequence[str]
    since: Sequence[str]
    due: Sequence[Due] = field(default_factory=tuple)
    changed: Sequence[str] = field(default_factory=tuple)  # since the reader last opened this person
    place: str = ""  # order.PLACES
    why: str = ""  # why it stands where it stands
    comes_next: bool = False  # of those still to come the first who is not late

    @property
    def falls(self) -> int:
        """How many falls wait for their review."""
        return sum(due.many for due in self.due if due.kind == "fall")

    @property
    def summary(self) -> str:
        """What the small staircase says, in words."""
        return summary(self.treads)


def hand_words(support: str, side: str) -> str:
    """Which hand holds the rail: the concrete side beside the trade's word. Nothing with two prostheses."""
    if side not in OTHER_SIDE:
        return ""
    held = {"contralateral_rail": OTHER_SIDE[side], "ipsilateral_rail": side}.get(support)
    return {"left": _("left hand"), "right": _("right hand"), None: ""}[held]


def next_of(board: Mapping[str, Any], treads: Sequence[Tread], side: str, *, waits: bool = False) -> Next | None:
    """The first step of the board row, in words; `waits`: for whoever leads it, the reader does not."""
    step = next(iter(board.get("next", ())), None)
    if step is None:
        return None
    names = {tread.key: tread.name for tread in treads}
    support = step["support"]
    words = names[step["skill"]], WORDS.rung(support), hand_words(support, side), said(step["why"])
    return Next(step["skill"], *words, waits)


FEATURES = Spoken(
    {
        "lock": gettext_noop("lock"),
        "free_swing": gettext_noop("free swing"),
        "yielding": gettext_noop("yielding"),
        "resistance": gettext_noop("resistance"),
    }
)


def feature_words(knee: Sequence[str] | None) -> str:
    """'lock, yielding'; said where there is none, since a missing feature rules skills out, and where nobody knows."""
    if knee is None:
        return _("knee not known yet")
    return ", ".join(word for key, word in FEATURES.items() if key in knee) or _("no lock, no free swing, no yielding")


def status_dues(treads: Sequence[Tread]) -> list[Due]:
    """What the statuses ask for: a signature, a skill to be proven again. What lapsed together is one line."""
    ready = [tread for tread in treads if tread.status == "ready"]
    lapsed = [tread for tread in treads if tread.status == "lapsed"]
    asked = [
        Due("ready", "ready", _("{skill}: ready for a signature").format(skill=tread.name), skill=tread.key)
        for tread in ready
    ]
    if len(lapsed) < 2:
        gone = [Due("lapsed", "lapsed", _("{skill}: sign-off lapsed").format(skill=tread.name)) for tread in lapsed]
    else:
        words = ngettext("{n} sign-off lapsed", "{n} sign-offs lapsed", len(lapsed)).format(n=len(lapsed))
        skills = ", ".join(tread.name for tread in lapsed)
        gone = [Due("lapsed", "lapsed", words, detail=skills, many=len(lapsed))]
    return [*asked, *gone]
