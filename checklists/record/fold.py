"""Folding what is new into what stood: by a step from the stored snapshot where that gives the right answer, else from
the start.

What follows at an instant is what the core says is broken for certain, and every open deadline that has passed: the
server's clock knows that it has, the record alone does not yet.
"""

from __future__ import annotations

import gc
from collections.abc import Callable, Iterable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import datetime
from functools import cache, partial
from uuid import UUID

import orjson
from django.db import connection

from checklists import domain
from checklists.domain.instant import at_microseconds, read
from checklists.domain.reader import Reader

Identity = tuple[str, str]  # rule and entry
Deadlines = dict[Identity, domain.Deadline]
_STORED = """
SELECT c.body FROM checklists_entry e JOIN checklists_entrycontent c ON c.entry_id = e.id
WHERE e.episode_id = %s ORDER BY e.number
"""


@dataclass(frozen=True, slots=True)
class Break:
    """A rule that an entry breaks, as of an instant."""

    rule: str
    entry: str
    severity: str
    at: datetime

    @property
    def identity(self) -> Identity:
        """Within the episode."""
        return self.rule, self.entry


@dataclass(slots=True)
class Folded:
    """Where the fold stands after a call, and what changed with it.

    `breaks`: after steps what has newly become certain; after a replay (`replayed`) everything that follows at the
    instant of the call. `said`: entry → what its own step said, as far as there were steps. `met`: deadlines that are
    no longer open and not broken → the entry with which they went.
    """

    episode: domain.Episode
    before: Deadlines
    breaks: list[Break]
    met: dict[Identity, str] = field(default_factory=dict)
    said: dict[str, frozenset[tuple[str, str, str]]] = field(default_factory=dict)
    refused: dict[str, str] = field(default_factory=dict)
    struck: frozenset[str] = frozenset()
    record: list[domain.Entry] | None = None
    gone_with: Callable[[Iterable[Identity]], dict[Identity, str]] = lambda _: {}

    @property
    def replayed(self) -> bool:
        """Whether it was folded from the start."""
        return self.record is not None

    @property
    def after(self) -> Deadlines:
        """The deadlines that are open now."""
        return deadlines(self.episode)


def restore(
    protocol: domain.Protocol, snapshot: bytes, reference: str, stored: Callable[[], list[domain.Entry]]
) -> domain.Episode:
    """The fold of a stored snapshot. Where there is none that this version can take up, the record is folded from the
    start."""
    if snapshot:
        try:
            return domain.Episode.restore(protocol, snapshot)
        except domain.StaleSnapshot:
            pass
    return domain.Episode.replay(protocol, stored(), reference=reference).episode


def fold(
    episode: domain.Episode, new: Sequence[domain.Entry], stored: Callable[[], list[domain.Entry]], at: datetime
) -> Folded:
    """Fold new entries in the order of reception. `stored` reads the record so far; it is asked only if need be."""
    before = deadlines(episode)
    breaks: list[Break] = []
    met: dict[Identity, str] = {}
    said = {}
    for entry in new:
        if not episode.takes(entry):
            with _uncollected():
                return _replayed(episode, before, stored(), new, at)
        alerts = episode.append(entry)
        breaks += [_certain(alert) for alert in alerts]
        said[entry.id] = frozenset((one.rule, one.entry, one.severity) for one in alerts)
        met |= {identity: entry.id for identity in episode.met if identity in before}
    return Folded(episode, before, breaks, met, said)


@contextmanager
def _uncollected() -> Iterator[None]:
    """Thousands of entries, none of them cyclic: to look for cycles among them takes longer than to fold them."""
    was = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if was:
            gc.enable()


def _replayed(
    episode: domain.Episode, before: Deadlines, stored: list[domain.Entry], new: Sequence[domain.Entry], at: datetime
) -> Folded:
    protocol, reference = episode.protocol, episode.reference
    came = list(new)
    record = stored + came
    result = domain.Episode.replay(protocol, record, reference=reference)
    breaks = _follows(result, at)
    follows = {one.identity for one in breaks}
    still = deadlines(result.episode)

    def gone_with(identities: Iterable[Identity]) -> dict[Identity, str]:
        """Each with the first received entry after which it no longer follows (found by halving)."""
        known: dict[int, set[Identity]] = {len(came): follows}

        def after(count: int) -> set[Identity]:
            if count not in known:
                part = domain.Episode.replay(protocol, stored + came[:count], reference=reference)
                known[count] = {one.identity for one in _follows(part, at)}
            return known[count]

        first = {one: _first(len(came), partial(lambda one, count: one not in after(count), one)) for one in identities}
        return {one: came[count - 1].id for one, count in first.items()}

    return Folded(
        episode=result.episode,
        before=before,
        breaks=breaks,
        met=dict.fromkeys(before.keys() - still.keys() - follows, came[-1].id),
        refused={one.entry: one.error for one in result.refused if one.entry is not None},
        struck=frozenset(result.struck),
        record=record,
        gone_with=gone_with,
    )


def _first(most: int, holds: Callable[[int], bool]) -> int:
    """The smallest count from 1 to `most` that holds, given that `most` does."""
    low, high = 1, most
    while low < high:
        middle = (low + high) // 2
        if holds(middle):
            high = middle
        else:
            low = middle + 1
    return low


def _follows(result: domain.Replayed, at: datetime) -> list[Break]:
    follows = {(alert.rule, alert.entry): _certain(alert) for alert in result.alerts}
    for one in result.episode.deadlines():
        if at_microseconds(one.due_us) < at:  # as of the last entry it may be among the alerts already
            follows.setdefault((one.rule, one.entry), Break(one.rule, one.entry, one.severity, _at(one.at)))
    return list(follows.values())


def _certain(alert: domain.Alert) -> Break:
    return Break(alert.rule, alert.entry, alert.severity, _at(alert.at))


def _at(text: str) -> datetime:
    return at_microseconds(read(text)[0])


def deadlines(episode: domain.Episode) -> Deadlines:
    """The open deadlines of a fold by identity."""
    return {(one.rule, one.entry): one for one in episode.deadlines()}


def stored(protocol: domain.Protocol, episode_id: UUID) -> list[domain.Entry]:
    """The record of an episode in the order of reception, from the start."""
    with connection.cursor() as cursor:
        cursor.execute(_STORED, [episode_id])
        return read_bodies(protocol, [body for (body,) in cursor.fetchall()])


def read_bodies(protocol: domain.Protocol, bodies: Sequence[str]) -> list[domain.Entry]:
    """Entries of the record from their texts."""
    read_one = _reader(protocol).read
    return [read_one(orjson.loads(body), body.encode()) for body in bodies]


@cache
def _reader(protocol: domain.Protocol) -> Reader:
    """The reader of a protocol: it remembers the shapes that it has met."""
    return Reader(protocol)
