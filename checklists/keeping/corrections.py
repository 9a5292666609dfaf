"""Corrections that somebody asked for, and their answers, as the record has them (SEMANTICS.md §8)."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime, timedelta
from typing import Any
from uuid import UUID

import orjson
from django.conf import settings
from django.db.models import F
from django.utils.translation import gettext as _

from checklists.record.models import EntryContent
from checklists.words.tables import worded
from clinic.clock import local_day

KINDS = ("correction_requested", "correction_answered", "struck_out")


@dataclass(frozen=True, slots=True)
class Answer:
    """One answer. `struck` and `added`: the ids of the entries by which it was put right."""

    entry: UUID
    answer: str
    reason: str
    struck: tuple[str, ...]
    added: tuple[str, ...]
    by: str
    at: datetime
    withdrawn: str = ""

    @property
    def words(self) -> str:
        """'agreed: one entry struck out, two added'; 'declined: …'."""
        done = [
            _("{n} struck out").format(n=len(self.struck)) if self.struck else "",
            _("{n} added").format(n=len(self.added)) if self.added else "",
        ]
        said = "; ".join(filter(None, (", ".join(filter(None, done)), self.reason)))
        return f"{worded(self.answer, 'answer')}{': ' + said if said else ''}"


@dataclass(slots=True)
class Correction:
    """One request. `withdrawn`: why the request itself was struck out; `target`: the entry that is said to be wrong."""

    entry: UUID
    episode_id: UUID
    target: str
    text: str
    asked_by: str
    by: str
    at: datetime
    due_on: date
    withdrawn: str = ""
    answers: list[Answer] = field(default_factory=list)

    @property
    def answered(self) -> Answer | None:
        """The answer that counts: the last that was not struck out."""
        return next((one for one in reversed(self.answers) if not one.withdrawn), None)

    @property
    def open(self) -> bool:
        """Whether it waits for an answer."""
        return self.answered is None and not self.withdrawn

    def late(self, day: date) -> bool:
        """Whether the day has passed by which an answer was due."""
        return self.open and day > self.due_on


def due_on(asked_at: datetime, zone: str) -> date:
    """By when an answer is due: the clinic's own setting in days (common practice, no source; the law comes first)."""
    return local_day(asked_at, zone) + timedelta(days=settings.CORRECTION_DAYS)


def corrections_of(episode_ids: Iterable[UUID]) -> dict[UUID, list[Correction]]:
    """What was asked for in each of these episodes, in the order of the record. One statement."""
    rows = EntryContent.objects.filter(entry__episode__in=list(episode_ids), entry__kind__in=KINDS)
    found = rows.order_by("entry__at", "entry__number").annotate(
        episode=F("entry__episode"), name=F("entry__by__name"), zone=F("entry__episode__site__time_zone")
    )
    by_episode: dict[UUID, list[tuple[dict[str, Any], str, str]]] = {}
    for row in found:
        fact = orjson.loads(row.body)
        by_episode.setdefault(row.episode, []).append((fact, row.name, row.zone))
    return {episode: _together(episode, facts) for episode, facts in by_episode.items()}


def _together(episode: UUID, facts: Sequence[tuple[dict[str, Any], str, str]]) -> list[Correction]:
    struck = {fact["entry"]: f"{fact['reason']} ({name})" for fact, name, _ in facts if fact["kind"] == "struck_out"}
    asked = {
        fact["id"]: _asked(episode, fact, name, zone, struck)
        for fact, name, zone in facts
        if fact["kind"] == "correction_requested"
    }
    for fact, name, _zone in facts:
        if fact["kind"] == "correction_answered" and fact["request"] in asked:
            asked[fact["request"]].answers.append(_answer(fact, name, struck))
    return list(asked.values())


def _asked(episode: UUID, fact: Mapping[str, Any], name: str, zone: str, struck: Mapping[str, str]) -> Correction:
    at = datetime.fromisoformat(fact["at"])
    return Correction(
        entry=UUID(fact["id"]),
        episode_id=episode,
        target=fact.get("entry", ""),
        text=fact["text"],
        asked_by=fact["asked_by"],
        by=name,
        at=at,
        due_on=due_on(at, zone),
        withdrawn=struck.get(fact["id"], ""),
    )


def _answer(fact: Mapping[str, Any], name: str, struck: Mapping[str, str]) -> Answer:
    return Answer(
        entry=UUID(fact["id"]),
        answer=fact["answer"],
        reason=fact.get("reason", ""),
        struck=tuple(fact.get("struck", ())),
        added=tuple(fact.get("added", ())),
        by=name,
        at=datetime.fromisoformat(fact["at"]),
        withdrawn=struck.get(fact["id"], ""),
    )
