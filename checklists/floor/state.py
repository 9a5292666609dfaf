"""What the Floor shows of the record: statuses, knees, what is next, today's facts. Five statements at any length."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping, Sequence
from datetime import datetime
from typing import Any
from uuid import UUID
from zoneinfo import ZoneInfo

import orjson

from caseload.models import Episode
from checklists.floor.sessions import Session, sessions_of, struck_by
from checklists.person.first import first_lines
from checklists.person.heads import Standing, fold_of, names_in, row_of
from checklists.person.helping import HELPER, is_open
from checklists.record import protocols
from checklists.record.models import EntryContent
from clinic import access, clock
from clinic.access import Action
from clinic.staff.models import Staff

RECENT = 100  # attempts that are looked at for the help of last time


def of_floor(actor: Staff, episode_id: UUID, *, at: datetime) -> Episode:
    """The episode with person, site and head, where the actor may record at least what the knee does."""
    rows = Episode.objects.select_related("person", "site", "head")
    return access.get(actor, Action.RECORD_KNEE, rows, at=at, pk=episode_id)


def is_theirs(actor: Staff, episode_id: UUID, *, at: datetime) -> bool:
    """Whether the actor may record for this person."""
    return access.scoped(actor, Action.RECORD_KNEE, Episode.objects.all(), at=at).filter(pk=episode_id).exists()


def floor_state(episode: Episode, *, at: datetime, role: str | None = None) -> dict[str, Any]:
    """The state that the page's script works with. `role`: under which whoever reads it records."""
    row = row_of(episode.head, at)
    today = _today(episode, at)
    names = names_in([row], (fact["by"] for fact in today))
    standing = Standing(protocols.loaded(episode.head.protocol_id), row, names)
    state = told(standing, at=at, today=today, attempts=_attempts(episode))
    return {**state, **_theirs(episode, state["next"], at, role)} if role == HELPER else state


def _theirs(episode: Episode, steps: Sequence[Mapping[str, Any]], at: datetime, role: str) -> dict[str, Any]:
    """`next`: which steps a role may take, each as whoever leads would take it: no rule broken but what is to be done
    first in any case. `led`: the skills that are closed to it. A tablet asks its own fold the same: floor/local.js."""
    fold, local = fold_of(episode.head), at.astimezone(ZoneInfo(episode.site.time_zone))
    led = fold.closed_to(role, local)
    return {"next": [{**step, "theirs": is_open(fold, step, role, local)} for step in steps], "led": led}


def told(
    standing: Standing, *, at: datetime, today: Sequence[Mapping[str, Any]], attempts: Iterable[Mapping[str, Any]]
) -> dict[str, Any]:
    """The state, from what was fetched: today's facts oldest first, the last attempts newest first. Pure.

    A tablet without signal tells the same from its own copy of the record: static/checklists/core/state.js.
    """
    row, names = standing.board, standing.names
    return {
        "now": at,
        "skills": {key: _skill(said, names) for key, said in standing.skills.items()},
        "knees": [{**knee, "by_name": names.get(knee["by"])} for knee in row["knees"]],
        "next": row["next"],
        "check_first": first_lines(row.get("check_first", ())),
        "session": session_of(today),
        "facts": _facts(today, names, row.get("uncounted", ())),
        "help": _last_help(attempts),
    }


def _today(episode: Episode, at: datetime) -> list[dict[str, Any]]:
    """Today's facts by the site's clock, oldest first, as they were sent."""
    zone = episode.site.time_zone
    since = clock.day_starts(clock.local_day(at, zone), zone)
    bodies = EntryContent.objects.filter(entry__episode=episode, entry__at__gte=since)
    return [orjson.loads(body) for body in bodies.order_by("entry__at", "entry__number").values_list("body", flat=True)]


def session_of(facts: Sequence[Mapping[str, Any]]) -> dict[str, Any]:
    """Whether a session is open, since when, and how its start check went."""
    last = next(iter(reversed(sessions_of(facts))), Session())
    if last.until:
        last = Session()
    return {"open": last.is_open, "since": last.since or None, "startCheck": last.start or None}


def initials(name: str) -> str:
    """'R.A.' of Runa Achterling."""
    return "".join(f"{word[0]}." for word in name.split() if word)


def _skill(said: Mapping[str, Any], names: Mapping[str, str]) -> dict[str, Any]:
    reasons = said["reasons"]
    return {
        "status": said["status"],
        "line": reasons[-1] if reasons else "",
        "why": reasons[:-1],
        "cause": said["fell_back_on"] if said["status"] == "suspended" else None,
        "short": _short(said),
        "stage_done": [said["stage"], said["stages"]] if said["stage"] and not said["run"] else None,
        "allowed": said.get("allowed"),
        "proven": {
            rung: f"{_day(seen)}, {initials(names.get(by, by))}"
            for rung, (seen, by) in (said.get("proven_rungs") or {}).items()
        },
    }


def _short(said: Mapping[str, Any]) -> str:
    """How far, for a key that is read at arm's length: '2 of 3'."""
    if said["status"] in ("signed_off", "not_applicable") or not said["tried"]:
        return ""
    return "proven" if said["met"] else f"{min(said['run'], said['in_a_row'])} of {said['in_a_row']}"


def _day(seen: str) -> str:
    day = datetime.fromisoformat(seen)
    return f"{day.day} {day:%b}"


def _facts(
    facts: Sequence[Mapping[str, Any]], names: Mapping[str, str], uncounted: Collection[str]
) -> list[dict[str, Any]]:
    struck = struck_by(facts)
    return [
        {
            "entry": fact,
            "by": names.get(fact["by"], fact["by"]),
            "struck": _strike(struck.get(fact["id"]), names),
            "uncounted": fact["id"] in uncounted,
        }
        for fact in facts
    ]


def _strike(strike: Mapping[str, Any] | None, names: Mapping[str, str]) -> dict[str, str] | None:
    if strike is None:
        return None
    return {"reason": strike["reason"], "at": strike["at"], "by": names.get(strike["by"], strike["by"])}


def _attempts(episode: Episode) -> Iterable[dict[str, Any]]:
    """The last attempts, newest first, as they were sent."""
    attempts = EntryContent.objects.filter(entry__episode=episode, entry__kind="attempt")
    return map(orjson.loads, attempts.order_by("-entry__at", "-entry__number").values_list("body", flat=True)[:RECENT])


def _last_help(attempts: Iterable[Mapping[str, Any]]) -> dict[str, str]:
    """The help of the last attempt of each skill tried lately."""
    found: dict[str, str] = {}
    for attempt in attempts:
        found.setdefault(attempt["skill"], attempt["help"])
    return found
