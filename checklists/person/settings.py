"""Knee and socket settings over time, what each change set back, and what was signed again since."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from typing import Any
from uuid import UUID

import orjson
from django.utils.translation import gettext as _

from checklists.floor.words import SETTING
from checklists.person.facts import Told, fitted, skill_name, tell
from checklists.pictures import names
from checklists.record.models import EntryContent
from checklists.record.reception import action_of
from checklists.words.tables import worded
from clinic.web.tags import when

CHANGE, STRIKE = "setting_changed", "struck_out"
SIGNATURES = ("sign_off", "sign_off_withdrawn")
Row = tuple[Mapping[str, Any], datetime, str]  # fact, at, who


@dataclass(frozen=True, slots=True)
class Change:
    """One change: from what to what, by whom, which signed skills it set back, and how many of them stand again."""

    entry: str
    strikes: str  # the action that lets somebody strike it out
    at: datetime
    key: str
    setting: str
    side: str
    knee: str
    was: str
    now: str
    by: str
    set_back: tuple[str, ...]
    again: int
    struck: str = ""  # when, by whom and why; nothing where it holds
    fitted: str = ""  # a knee in place of none that is known
    note: str = ""
    features: tuple[str, ...] | None = None  # of the knee, where this change said them

    @property
    def since(self) -> str:
        """'3 of 6 signed again'; nothing where nothing was set back."""
        if not self.set_back:
            return ""
        if self.again == len(self.set_back):
            return _("all signed again")
        return _("{n} of {all} signed again").format(n=self.again, all=len(self.set_back))


def changes(episode_id: UUID, document: Mapping[str, Any] | None = None) -> list[Change]:
    """The changes of an episode that hold, newest first, in one statement."""
    return [one for one in every_change(episode_id, document) if not one.struck]


def every_change(episode_id: UUID, document: Mapping[str, Any] | None = None) -> list[Change]:
    """The same with those that were struck out. Set back is what stood signed just before: nothing by a struck one, and
    nothing where no `document` of a protocol is given, for whoever does not ask that."""
    kinds = (CHANGE,) if document is None else (CHANGE, *SIGNATURES)
    facts, struck = facts_of(episode_id, kinds)
    standing = [row for row in facts if row[0]["id"] not in struck]
    place = {row[0]["id"]: number for number, row in enumerate(standing)}
    depends = {} if document is None else _dependants(document)
    made = [row for row in facts if row[0]["kind"] == CHANGE]
    return [
        replace(_change(place.get(key := row[0]["id"]), row, standing, depends), struck=struck.get(key, ""))
        for row in reversed(made)
    ]


def facts_of(episode_id: UUID, kinds: Sequence[str]) -> tuple[list[Row], dict[str, str]]:
    """The facts of these kinds in their order, those that were struck out among them, and the ids of whatever was
    struck out, with when, by whom and why. One statement."""
    return _apart(row for _episode, row in _rows([episode_id], kinds))


def standing_of_all(episodes: Iterable[UUID], kinds: Sequence[str]) -> dict[UUID, list[Row]]:
    """The facts of these kinds that hold, in their order, of each of several episodes. One statement; none where there
    are none."""
    wanted: dict[UUID, list[Row]] = {episode: [] for episode in episodes}
    for episode, row in _rows(wanted, kinds) if wanted else ():
        wanted[episode].append(row)
    apart = {episode: _apart(rows) for episode, rows in wanted.items()}
    return {episode: [row for row in facts if row[0]["id"] not in struck] for episode, (facts, struck) in apart.items()}


def _rows(episodes: Iterable[UUID], kinds: Sequence[str]) -> Iterator[tuple[UUID, Row]]:
    """Each fact of these kinds, and each that struck something out, with its episode."""
    rows = EntryContent.objects.filter(entry__episode__in=list(episodes), entry__kind__in=(*kinds, STRIKE))
    ordered = rows.order_by("entry__at", "entry__number")
    for episode, body, at, by in ordered.values_list("entry__episode", "body", "entry__at", "entry__by__name"):
        yield episode, (orjson.loads(body), at, by)


def _apart(rows: Iterable[Row]) -> tuple[list[Row], dict[str, str]]:
    facts = list(rows)
    struck = {row[0]["entry"]: strike_words(*row) for row in facts if row[0]["kind"] == STRIKE}
    return [row for row in facts if row[0]["kind"] != STRIKE], struck


def strike_words(fact: Mapping[str, Any], at: datetime, by: str) -> str:
    """When something was struck out, by whom and why."""
    return _("struck out {at} by {name}: {reason}").format(at=when(at), name=by, reason=fact["reason"])


def _dependants(document: Mapping[str, Any]) -> dict[str, list[str]]:
    """Each setting with the skills that fall back on it."""
    out: dict[str, list[str]] = {}
    for skill in document["skills"]:
        for setting in skill.get("falls_back_on", []):
            out.setdefault(setting, []).append(skill["key"])
    return out


def _change(number: int | None, row: Row, rows: Sequence[Row], depends: Mapping[str, Sequence[str]]) -> Change:
    fact, at, by = row
    before = _signed(rows[:number]) if number is not None else set()
    after = _signed(rows[number:]) if number is not None else set()
    back = [key for key in depends.get(fact["setting"], ()) if key in before]
    return Change(
        entry=fact["id"],
        strikes=str(action_of(fact)),
        at=at,
        key=fact["setting"],
        setting=SETTING[fact["setting"]],
        side=fact.get("knee", ""),
        knee=worded(fact["knee"], "knee") if fact.get("knee") else "",
        was=fact.get("from", ""),
        now=fact.get("to", ""),
        by=by,
        set_back=tuple(names.short(key, key.replace("_", " ")) for key in back),
        again=sum(1 for key in back if key in after),
        fitted=fitted(fact),
        note=fact.get("note", ""),
        features=tuple(fact["features"]) if fact.get("features") is not None else None,
    )


def _signed(rows: Sequence[Row]) -> set[str]:
    """The skills whose last signature among these facts is a sign-off."""
    signed: set[str] = set()
    for fact, *_rest in rows:
        if fact["kind"] == "sign_off":
            signed.add(fact["skill"])
        elif fact["kind"] == "sign_off_withdrawn":
            signed.discard(fact["skill"])
    return signed


@dataclass(frozen=True, slots=True)
class Fell:
    """A fall or a near miss, and how it was reviewed."""

    entry: str
    at: datetime
    kind: str
    skill: str
    injury: str
    circumstances: str
    by: str
    outcome: str
    told: Told  # as the timeline says it
    note: str

    @property
    def waits(self) -> bool:
        """Whether nobody has cleared it yet."""
        return self.kind == "fall" and self.outcome != "cleared"

    @property
    def review(self) -> str:
        """The outcome in words; nothing while nobody has reviewed it."""
        return worded(self.outcome, "outcome") if self.outcome else ""


def last_reviews(standing: Iterable[Row]) -> dict[str, Row]:
    """Of facts that hold, in their order: each fall that a review names, with the last of those reviews."""
    return {one: row for row in standing if row[0]["kind"] == "review" for one in row[0].get("of", ())}


def falls(episode_id: UUID) -> list[Fell]:
    """Falls and near misses, newest first, each with the outcome of the last review that names it. One statement."""
    facts, struck = facts_of(episode_id, ("fall", "near_miss", "review"))
    standing = [row for row in facts if row[0]["id"] not in struck]
    reviews = last_reviews(standing)
    return [
        Fell(
            fact["id"],
            at,
            fact["kind"],
            skill_name(fact),
            worded(fact["injury"], "injury") if fact.get("injury") else "",
            fact.get("circumstances", ""),
            by,
            reviews[fact["id"]][0]["outcome"] if fact["id"] in reviews else "",
            tell(fact),
            fact.get("note", ""),
        )
        for fact, at, by in reversed(standing)
        if fact["kind"] in ("fall", "near_miss")
    ]
