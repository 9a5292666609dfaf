"""What the core in Python makes of what was dealt (deck.py): the same answers as compared.mjs."""

from __future__ import annotations

import io
import json
from datetime import UTC, datetime, timedelta
from functools import lru_cache
from typing import Any

import orjson

from checklists.domain import Entry, Episode, Protocol, ProtocolRefused, instant, load_protocol, parse_entry
from checklists.replay import BAD_INPUT, PROTOCOL_REFUSED, replay_under
from tests.core_js.deck import Dealt

MOST_ADVICE = 12
EXACT = int(8.8e15)  # microseconds: as far as doubles are exact


def compared(dealt: Dealt) -> dict[str, Any]:
    """What is printed and said, the exit status, and the state of a deep one."""
    out, said = io.StringIO(), io.StringIO()
    if dealt.at is not None and (why := _no_instant(dealt.at)):
        return {"status": BAD_INPUT, "out": "", "said": f"--at {dealt.at!r} {why}\n", "state": _state(dealt)}
    try:
        protocol = _loaded(dealt.document)
    except ProtocolRefused as refused:
        return {"status": PROTOCOL_REFUSED, "out": "", "said": f"protocol refused at {refused}\n", "state": None}
    status = replay_under(protocol, io.BytesIO(dealt.history), at=dealt.at, out=out, complaints=said)
    return {"status": status, "out": out.getvalue(), "said": said.getvalue(), "state": _state(dealt)}


def _state(dealt: Dealt) -> dict[str, Any] | None:
    try:
        entries = _read(_loaded(dealt.document), dealt.history) if dealt.deep else []
    except ProtocolRefused:
        return None
    return _carried(_loaded(dealt.document), entries) if entries else None


def _no_instant(at: str) -> str | None:
    """Why it is none; it is looked at before anything is read."""
    try:
        instant.read(at)
    except ValueError as fault:
        return str(fault)
    return None


@lru_cache(1)
def _loaded(document: bytes) -> Protocol:
    """Once for the same bytes, as in compared.mjs."""
    return load_protocol(document)


def _read(protocol: Protocol, history: bytes) -> list[Entry]:
    """The facts of the first episode that reading takes, each id once."""
    found: dict[str, Entry] = {}
    for line in history.split(b"\n"):
        try:
            entry = parse_entry(_value(line), protocol)
        except (ValueError, RecursionError):  # EntryRefused is one
            continue
        if not found or entry.episode == next(iter(found.values())).episode:
            found.setdefault(entry.id, entry)
    return list(found.values())


def _value(line: bytes) -> Any:
    try:
        return orjson.loads(line)
    except ValueError:
        return json.loads(line)


def _carried(protocol: Protocol, entries: list[Entry]) -> dict[str, Any]:
    reference, half = entries[0].episode, len(entries) // 2
    taken = Episode.replay(protocol, entries[:half], reference=reference).episode.snapshot()
    episode = Episode.restore(protocol, taken)
    did: list[Any] = []
    for number, entry in enumerate(entries[half:], half + 1):
        if episode.takes(entry):
            did.append({"alerts": [one._asdict() for one in episode.append(entry)], "met": episode.met})
        else:
            did.append(None)
            episode = Episode.replay(protocol, entries[:number], reference=reference).episode
    fresh = Episode.replay(protocol, entries, reference=reference).episode.snapshot()
    return {
        "taken": taken.decode(),
        "did": did,
        "carried": episode.snapshot().decode(),
        "fresh": fresh.decode(),
        "says": _says(episode, _moment(entries)),
    }


def _moment(entries: list[Entry]) -> datetime:
    latest = max([entry.at_us for entry in entries if 0 < entry.at_us < EXACT], default=0)
    return datetime.fromtimestamp(latest // 10**6, UTC).replace(microsecond=latest % 10**6 // 1000 * 1000) + timedelta(
        hours=1
    )


def _says(episode: Episode, at: datetime) -> dict[str, Any]:
    text = at.isoformat(timespec="milliseconds").replace("+00:00", "Z")
    plan = episode.fold.plan
    tried = [
        {"skill": skill.skill.key, "support": support, "help": help_}
        for skill in plan.skills
        for support in skill.ladder
        for help_ in episode.protocol.help
    ]
    asked: list[dict[str, Any]] = tried[:: -(-len(tried) // MOST_ADVICE)]
    return {
        "at": text,
        "statuses": {key: one._asdict() for key, one in episode.statuses(text).items()},
        "words": episode.status_words(text),
        "knees": [one._asdict() for one in episode.knees()],
        "next": [
            {**one._asdict(), "first": [each._asdict() for each in one.first]} for one in episode.next_steps(text)
        ],
        "first": [one._asdict() for one in episode.check_first(text)],
        "deadlines": [one._asdict() for one in episode.deadlines()],
        "changes": episode.changes_at(at),
        "lacks": [episode.sign_off_blockers(key, text) for key in plan.keys],
        "advice": [_advised(episode, one, text) for one in [*asked, {"kind": "mode_set", "mode": "locked"}]],
    }


def _advised(episode: Episode, planned: dict[str, Any], at: str) -> dict[str, Any]:
    advice = episode.advise(planned, at=at, role="assistant")
    breaks, counted = [one._asdict() for one in advice.breaks], advice.counted
    return {"allowed": advice.allowed, "breaks": breaks, "counted": counted._asdict() if counted else None}
