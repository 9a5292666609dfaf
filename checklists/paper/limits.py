"""How far each skill may be tried today, and what must not be tried and why: the core's own advice, laid out for paper.

Paper cannot ask again, so the sheet asks beforehand: what would be advised once the start check has been made and found
good. Whatever the advice still speaks against then must not be tried. No rule stands here.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from string import ascii_lowercase
from typing import Any
from uuid import uuid4
from zoneinfo import ZoneInfo

from caseload.models import Episode
from checklists.domain import Episode as Fold
from checklists.floor.advice import carry_on, on_every_rung, on_one
from checklists.floor.config import protocol_part
from checklists.person.heads import fold_of
from checklists.pictures import Tread
from checklists.words import said
from clinic.staff.models import Staff

Advised = Mapping[str, Mapping[str, Mapping[str, Any]]]  # rung → help → {allowed, breaks}


@dataclass(frozen=True, slots=True)
class Limit:
    """One skill: its tread, the furthest rung of today with the least help on it (empty: none), and what speaks
    against more, as (sentence of the rule, what must come first)."""

    tread: Tread
    support: str
    help: str
    against: tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True)
class Why:
    """A rule that stands against something: its letter, its sentence, and what must come first for all that it stands
    against."""

    letter: str
    sentence: str
    first: str


@dataclass(frozen=True, slots=True)
class Told:
    """A limit as it is printed: `own` is (letter, what must come first for this skill) for each rule against more."""

    tread: Tread
    support: str
    help: str
    own: tuple[tuple[str, str], ...]


def limits(episode: Episode, actor: Staff, treads: Sequence[Tread], *, at: datetime) -> list[Limit]:
    """The limits of today for whoever prints, in the order of the treads; skills that do not apply are left out."""
    advised = advised_today(episode, actor, at=at)
    return [_limit(tread, advised.of(tread.key)) for tread in treads if tread.status != "not_applicable"]


@dataclass(frozen=True, slots=True)
class Today:
    """Of whom the core is asked today, and when and for whom: the answer that all that is printed goes by."""

    state: Fold
    skills: Mapping[str, Mapping[str, Any]]
    helps: Sequence[str]
    local: datetime
    role: str | None

    def of(self, skill: str) -> Advised:
        """What is advised of a skill, on every rung and with every help of it."""
        return on_every_rung(self.state, self.skills[skill], self.helps, self.local, self.role)

    def on(self, skill: str, rung: str, help_: str) -> Mapping[str, Any]:
        """What is advised of a skill on one rung with one help."""
        return on_one(self.state, skill, rung, help_, self.local, self.role)


def advised_today(episode: Episode, actor: Staff, *, at: datetime) -> Today:
    """The core as it stands today, to be asked of skill after skill."""
    state = fold_of(episode.head)
    carry_on(state, [_good_start(state.protocol.document, at)], actor, episode, at)
    part = protocol_part(state.protocol.document, episode.side)
    skills = {skill["key"]: skill for skill in part["skills"]}
    role, local = actor.stamped_role(at.date()), at.astimezone(ZoneInfo(episode.site.time_zone))
    return Today(state, skills, part["help"], local, role)


def _good_start(document: Mapping[str, Any], at: datetime) -> dict[str, Any]:
    """The start check as if it were made now, every step good."""
    steps: Sequence[str] = next(
        (one["steps"] for one in document.get("checks", ()) if one["key"] == "start_of_session"), ()
    )
    good = dict.fromkeys(steps, True)
    return {"id": str(uuid4()), "kind": "check", "at": at.isoformat(), "name": "start_of_session", "steps": good}


def _limit(tread: Tread, advised: Advised) -> Limit:
    rungs = list(advised)
    for number in range(len(rungs) - 1, -1, -1):
        helps = advised[rungs[number]]
        fine = [help_ for help_ in helps if helps[help_]["allowed"]]
        if fine:
            beyond = advised[rungs[number + 1]] if number + 1 < len(rungs) else {}
            return Limit(tread, rungs[number], fine[-1], _against(beyond))
    return Limit(tread, "", "", _against(advised[rungs[0]]))


def _against(helps: Mapping[str, Mapping[str, Any]]) -> tuple[tuple[str, str], ...]:
    """What speaks against a rung even with the most help; once each."""
    breaks = next(iter(helps.values()))["breaks"] if helps else ()
    return tuple(dict.fromkeys((one["sentence"], one["do_first"]) for one in breaks))


def told(found: Sequence[Limit]) -> tuple[list[Told], list[Why]]:
    """The limits in the reader's language, and each rule once."""
    groups: dict[str, list[list[str]]] = {}
    for one in found:
        for sentence, first in one.against:
            groups.setdefault(said(sentence), []).append(_sentences(first))
    letters = dict(zip(groups, ascii_lowercase, strict=False))
    shared = {
        sentence: [part for part in told[0] if all(part in other for other in told)]
        for sentence, told in groups.items()
    }
    whys = [Why(letters.get(key, "*"), key, " ".join(parts)) for key, parts in shared.items()]
    rows = []
    for one in found:
        own = [
            (letters.get(key, "*"), " ".join(part for part in _sentences(first) if part not in shared[key]))
            for key, first in ((said(sentence), first) for sentence, first in one.against)
        ]
        rows.append(Told(one.tread, one.support, one.help, tuple(own)))
    return rows, whys


def _sentences(text: str) -> list[str]:
    """The sentences of a text as the reader says them."""
    return re.split(r"(?<=\.) ", said(text))
