"""Replay: lines of a history in, one report an episode out (SEMANTICS.md §7). The door is `manage.py replay`."""

import json
from array import array
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, field
from typing import Any

import orjson

from .entry import Entry
from .episode import Episode
from .errors import EntryRefused
from .protocol import Protocol
from .reader import Reader
from .record import Refused, other_content


@dataclass(slots=True)
class _Received:
    """What was received of one episode, with the number of each line."""

    entries: list[Entry] = field(default_factory=list)
    lines: array = field(default_factory=lambda: array("Q"))  # type: ignore[type-arg]  # no argument at run time in 3.11
    refused: list[tuple[int, Refused]] = field(default_factory=list)


def replay_lines(
    protocol: Protocol, lines: Iterable[bytes], at: str | None = None, *, report_line: Callable[[int, str], None]
) -> Iterator[dict[str, Any]]:
    """Reports, in order of the episode's reference.

    `report_line` hears of every line that is no entry of any episode.
    """
    episodes = _receive(protocol, lines, report_line)
    for reference in sorted(episodes):
        yield report(protocol, reference, episodes.pop(reference), at)


def report(protocol: Protocol, reference: str, received: _Received, at: str | None) -> dict[str, Any]:
    """The report on one episode, with names and order as SEMANTICS.md §7 shows them."""
    replayed = Episode.replay(protocol, received.entries, reference=reference, at=at)
    end = len(received.lines)
    refused = received.refused + [
        (received.lines[index] if 0 <= index < end else 2**64, one)
        for index, one in zip(replayed.refused_at, replayed.refused, strict=True)
    ]
    refused.sort(key=lambda one: one[0])
    return {
        "episode": reference,
        "at": replayed.at,
        "alerts": [
            {"rule": rule, "entry": entry, "at": at, "severity": severity}
            for rule, entry, at, severity in replayed.alerts
        ],
        "skills": replayed.episode.status_words(replayed.at),
        "refused": [one._asdict() for _, one in refused],
    }


def _receive(
    protocol: Protocol, lines: Iterable[bytes], report_line: Callable[[int, str], None]
) -> dict[str, _Received]:
    episodes: dict[str, _Received] = {}
    known: dict[str, Entry] = {}
    read = Reader(protocol).read
    for number, line in enumerate(lines, 1):
        try:
            obj = orjson.loads(line)
        except ValueError:
            obj = _parse(line)
        reference = obj.get("episode") if type(obj) is dict else None
        if type(reference) is not str:
            report_line(number, "is not a JSON object with a text `episode`")
            continue
        received = episodes.get(reference)
        if received is None:
            received = episodes[reference] = _Received()
        try:
            entry = read(obj, line)
        except EntryRefused as fault:
            name = obj.get("id")
            received.refused.append((number, Refused(name if isinstance(name, str) else None, str(fault))))
            continue
        first = known.setdefault(entry.id, entry)
        if first is entry:
            received.entries.append(entry)
            received.lines.append(number)
        elif first.episode != reference or not first.same_as(entry):
            received.refused.append((number, other_content(entry.id)))
    return episodes


def _parse(line: bytes) -> Any:
    """The careful way: numbers that are not finite and halves of characters are left to the entry's own refusal."""
    try:
        return json.loads(line)
    except (ValueError, RecursionError):
        return None


def as_line(report_: dict[str, Any]) -> bytes:
    """A report as one JSON line, without the line feed."""
    try:
        return orjson.dumps(report_)
    except TypeError:  # half of a character in a text of the history: escaped, as it came
        return json.dumps(report_, separators=(",", ":")).encode()
