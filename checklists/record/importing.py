"""Taking a history in from JSON Lines: bad lines are refused alone, what is in is in, and the same file again does no
harm."""

from __future__ import annotations

import json
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from typing import Any
from uuid import UUID

import orjson

from caseload.episode.models import Episode
from checklists.domain import instant, same_content
from checklists.domain.entry_check import UUID as UUID_TEXT
from checklists.record.models import EntryContent
from checklists.record.services import import_entries
from clinic.errors import Refusal
from clinic.staff.models import Staff

AT_ONCE = 500


@dataclass(frozen=True, slots=True)
class LineReport:
    """What became of one line of the file."""

    number: int
    outcome: str
    error: str | None = None


@dataclass(slots=True)
class _Batch:
    """Lines of one episode that follow one another in the file."""

    reference: str
    lines: list[tuple[int, dict[str, Any]]] = field(default_factory=list)


def import_lines(actor: Staff, source: Iterable[bytes]) -> Iterator[list[LineReport]]:
    """Import a file batch by batch. Each list that comes out says what became of its lines: what is accepted is
    committed.

    Entries whose `at` ties are given `seq` in the file's order where they have none of their own.
    """
    ties = _Ties()
    for batch in batches(source):
        if isinstance(batch, LineReport):
            yield [batch]
            continue
        yield _import(actor, batch, ties)


def batches(source: Iterable[bytes]) -> Iterator[_Batch | LineReport]:
    """Lines that are entries of an episode, gathered; every other line as its own report."""
    batch = _Batch("")
    for number, line in enumerate(source, 1):
        if not line.strip():
            continue
        obj = _parsed(number, line)
        if not isinstance(obj, dict):
            if batch.lines:
                yield batch
                batch = _Batch("")
            yield obj
            continue
        reference = obj["episode"]
        if batch.lines and (reference != batch.reference or len(batch.lines) >= AT_ONCE):
            yield batch
            batch = _Batch(reference)
        batch.reference = reference
        batch.lines.append((number, obj))
    if batch.lines:
        yield batch


def _parsed(number: int, line: bytes) -> dict[str, Any] | LineReport:
    try:
        obj = json.loads(line.decode("utf-8"))
    except UnicodeDecodeError:
        return LineReport(number, "refused", "line: is not UTF-8")
    except RecursionError:
        return LineReport(number, "refused", "line: nested too deeply")
    except ValueError as fault:
        return LineReport(number, "refused", f"line: is not JSON ({fault})")
    if not isinstance(obj, dict) or not isinstance(obj.get("episode"), str):
        return LineReport(number, "refused", "line: is not a JSON object with a text `episode`")
    return obj


def _import(actor: Staff, batch: _Batch, ties: _Ties) -> list[LineReport]:
    episode_id = _episode_id(batch.reference)
    if episode_id is None:
        why = f"episode: there is no {batch.reference[:40]!r} here; open the episode first"
        return [LineReport(number, "refused", why) for number, _ in batch.lines]
    entries = ties.numbered(batch.reference, [obj for _, obj in batch.lines])
    try:
        verdicts = import_entries(actor=actor, episode_id=episode_id, entries=entries).verdicts
    except Refusal as fault:
        return [LineReport(number, "refused", fault.sentence) for number, _ in batch.lines]
    return [
        LineReport(number, verdict.outcome, verdict.error)
        for (number, _), verdict in zip(batch.lines, verdicts, strict=True)
    ]


def _episode_id(reference: str) -> UUID | None:
    if "\0" in reference:
        return None
    return Episode.objects.filter(reference=reference[:100]).values_list("pk", flat=True).first()


class _Ties:
    """Gives `seq` to entries of one episode whose `at` is the same instant, in the file's order.

    What stands in the record already as the file has it is left as it is: so the record's own export comes back
    unchanged.
    """

    def __init__(self) -> None:
        self._next: dict[tuple[str, int], int] = {}

    def numbered(self, reference: str, entries: list[dict[str, Any]]) -> list[dict[str, Any]]:
        """The entries, with `seq` where it is needed."""
        known = _stored(entries)
        return [self._numbered(reference, entry, known) for entry in entries]

    def _numbered(self, reference: str, entry: dict[str, Any], known: Mapping[str, Any]) -> dict[str, Any]:
        at, seq = entry.get("at"), entry.get("seq", 0)
        if not isinstance(at, str) or isinstance(seq, bool) or not isinstance(seq, int):
            return entry  # refused as it stands
        try:
            key = (reference, instant.read(at)[0])
        except ValueError:
            return entry
        free = self._next.get(key, 0)
        if "seq" in entry or free == 0 or _as_stored(entry, known):
            self._next[key] = max(free, seq + 1)
            return entry
        self._next[key] = free + 1
        return {**entry, "seq": free}


def _stored(entries: list[dict[str, Any]]) -> dict[str, Any]:
    ids = [one for entry in entries if isinstance(one := entry.get("id"), str) and UUID_TEXT.fullmatch(one)]
    rows = EntryContent.objects.filter(entry__id__in=ids).values_list("entry__id", "body")
    return {str(id_): orjson.loads(body) for id_, body in rows}


def _as_stored(entry: Mapping[str, Any], known: Mapping[str, Any]) -> bool:
    stored = known.get(str(entry.get("id")))
    return stored is not None and same_content(stored, entry)
