"""One history asked of the server's answers to the Floor (checklists/floor) and of the tablet's own core."""

from __future__ import annotations

import json
import subprocess
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from functools import lru_cache
from pathlib import Path
from types import SimpleNamespace
from typing import Any, cast
from zoneinfo import ZoneInfo

import orjson

from caseload.models import Episode as Row
from checklists.domain import EntryRefused, Episode, Protocol, instant, load_protocol, parse_entry
from checklists.floor.advice import carry_on, on_every_rung
from checklists.floor.config import protocol_part
from checklists.floor.state import RECENT, told
from checklists.person.heads import Standing
from checklists.record import board
from clinic import clock
from clinic.staff.models import Staff
from tests.core_js.node import NODE

HERE = Path(__file__).parent
SIGNED_IN = "T-signed-in"


@dataclass(frozen=True)
class Moment:
    """When the Floor is asked, by which clocks, by somebody in which role, with which facts on their way.

    `every`, `first`: advice on every so manieth skill, from which on.
    """

    at: datetime
    zone: str = "Europe/London"
    role: str | None = "therapist"
    pending: Sequence[dict[str, Any]] = ()
    every: int = 1
    first: int = 0

    @property
    def local(self) -> datetime:
        return self.at.astimezone(ZoneInfo(self.zone))

    @property
    def since(self) -> datetime:
        return clock.day_starts(clock.local_day(self.at, self.zone), self.zone)


@dataclass(frozen=True)
class History:
    """A document and the facts that the record took, in the order of reception."""

    document: Mapping[str, Any]
    facts: Sequence[dict[str, Any]]
    names: Mapping[str, str] = field(default_factory=dict)

    @property
    def reference(self) -> str:
        return str(self.facts[0]["episode"])

    @property
    def last(self) -> datetime:
        return max(instant_of(fact) for fact in self.facts)


def instant_of(fact: Mapping[str, Any]) -> datetime:
    return instant.at_microseconds(instant.read(fact["at"])[0])


@lru_cache(maxsize=1)
def _protocol(source: str) -> Protocol:
    """Most histories in a row are under the same document; floor_state.mjs keeps the last one too."""
    return load_protocol(source)


def taken(document: Mapping[str, Any], lines: Sequence[Any]) -> list[dict[str, Any]]:
    """The facts of one episode that reading takes, each id once, as the record holds them."""
    protocol = _protocol(json.dumps(document))
    found: dict[str, dict[str, Any]] = {}
    for line in lines:
        try:
            entry = parse_entry(line, protocol)
        except EntryRefused:
            continue
        if not found or line["episode"] == next(iter(found.values()))["episode"]:
            found.setdefault(entry.id, line)
    return list(found.values())


def of_the_server(history: History, moments: Sequence[Moment]) -> list[dict[str, Any]]:
    """What the server's own functions answer, as JSON."""
    protocol = _protocol(json.dumps(history.document))
    entries = [parse_entry(fact, protocol) for fact in history.facts]
    return [_asked(history, protocol, entries, moment) for moment in moments]


def _asked(history: History, protocol: Protocol, entries: Sequence[Any], moment: Moment) -> dict[str, Any]:
    episode = Episode.replay(protocol, entries, reference=history.reference).episode
    actor = cast("Staff", SimpleNamespace(reference=SIGNED_IN))
    row = cast("Row", SimpleNamespace(reference=history.reference))
    carry_on(episode, moment.pending, actor, row, moment.at)
    in_time = sorted(history.facts, key=instant_of)
    standing = Standing(protocol, orjson.loads(board.of(episode, moment.local).body), history.names)
    state = told(
        standing,
        at=moment.at,
        today=[fact for fact in in_time if instant_of(fact) >= moment.since],
        attempts=[fact for fact in reversed(in_time) if fact["kind"] == "attempt"][:RECENT],
    )
    part = protocol_part(protocol.document, "both" if episode.both else "left")
    asked = set(list(protocol.skills)[moment.first :: moment.every])
    return {
        "state": {**state, "now": _written(moment)},
        "advice": {
            each["key"]: on_every_rung(episode, each, part["help"], moment.local, moment.role)
            for each in part["skills"]
            if each["key"] in asked
        },
        "statuses": {key: one._asdict() for key, one in episode.statuses(moment.local).items()},
        "next": [{**one._asdict(), "first": [each._asdict() for each in one.first]} for one in _steps(episode, moment)],
        "first": [one._asdict() for one in episode.check_first(moment.local)],
        "counted": {key: _counted(episode, key, moment) for key in asked},
        "closed": episode.closed_to(moment.role, moment.local) if moment.role else [],
        "knees": [one._asdict() for one in episode.knees()],
        "lacks": {key: episode.sign_off_blockers(key, moment.local) for key in protocol.skills},
    }


def _counted(episode: Episode, skill: str, moment: Moment) -> list[Any]:
    """Of an attempt with every number, in range or not, without and with every fault."""
    protocol, ladder = episode.protocol, episode.fold.plan.skills[episode.fold.plan.number[skill]].ladder
    found = []
    for value, faults in ((50, []), (10_000, []), (50, list(protocol.deviations))):
        planned = {"skill": skill, "support": ladder[0], "help": protocol.help[-1], "deviations": faults}
        measured = {**planned, "measures": dict.fromkeys(protocol.measures, value)}
        counted = episode.advise(measured, at=moment.local).counted
        found.append(counted._asdict() if counted else None)
    return found


def _steps(episode: Episode, moment: Moment) -> list[Any]:
    return episode.next_steps(moment.local)


def _written(moment: Moment) -> str:
    return instant.of(moment.local)[2]


class Tablet:
    """The core in JavaScript in a process of its own."""

    def __init__(self, process: subprocess.Popen[str]) -> None:
        self._process = process

    def ask(self, ask: str, **question: Any) -> Any:
        """One question, its answer as JSON."""
        assert self._process.stdin is not None
        assert self._process.stdout is not None
        self._process.stdin.write(json.dumps({"ask": ask, **question}) + "\n")
        self._process.stdin.flush()
        answer = json.loads(self._process.stdout.readline() or '{"failed": "the process has ended"}')
        assert "failed" not in answer, answer["failed"]
        return answer["said"]

    def answers(self, history: History, moments: Sequence[Moment], *, by: str = SIGNED_IN) -> list[dict[str, Any]]:
        """What `of_the_server` answers."""
        asked = [
            {
                "at": _written(one),
                "since": one.since.astimezone(UTC).isoformat().replace("+00:00", "Z"),
                "role": one.role,
                "pending": list(one.pending),
                "by": by,
                "every": one.every,
                "first": one.first,
            }
            for one in moments
        ]
        facts = [json.dumps(fact) for fact in history.facts]
        given = {"document": json.dumps(history.document), "reference": history.reference, "facts": facts}
        found: list[dict[str, Any]] = self.ask("episode", **given, names=dict(history.names), moments=asked)
        return found


@contextmanager
def a_tablet() -> Iterator[Tablet]:
    """The process, as long as it is needed."""
    command = [NODE, str(HERE / "floor_state.mjs")]
    with subprocess.Popen(command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True, encoding="utf-8") as node:
        try:
            yield Tablet(node)
        finally:
            node.kill()


def names_for(facts: Sequence[Mapping[str, Any]]) -> dict[str, str]:
    """A name for nearly everybody who is referred to: one is unknown, one is hard on a search and replace."""
    given = ["Runa Achterling", "$& O\u2019Quill-Marr", "\U0001d4d0nna  d\u2019Or", "Brede"]
    known = dict.fromkeys([fact["by"] for fact in facts if isinstance(fact.get("by"), str)])
    return {by: given[number % 4] for number, by in enumerate(known) if number != 4}


def later(history: History, *after: timedelta) -> list[datetime]:
    return [history.last + each for each in after]
