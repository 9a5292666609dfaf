"""Sealed marks are brought by whoever is signed in next on the tablet, and kept for their author alone."""

from __future__ import annotations

import base64
import hashlib
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any
from uuid import UUID

import orjson
from django.db import transaction

from caseload.models import Episode
from checklists.domain import same_content
from checklists.record.models import EntryContent
from checklists.sealed.models import SealedMark
from checklists.sealed.reading import Content, content_of
from clinic import clock
from clinic.access.standing import beyond
from clinic.audit import trail
from clinic.ledger.sealing import Unreadable
from clinic.staff.models import Staff

MOST_WAITING = 2000  # of one author: a device that invents marks for somebody is stopped


@dataclass(frozen=True, slots=True)
class Brought:
    """What became of one: `kept` for its author, `known` (it is in the record already), `refused` with the reason."""

    id: str
    outcome: str
    error: str | None = None


@dataclass(frozen=True, slots=True)
class _Known:
    """What is asked of the database about what was brought, beyond the bringer's own reach."""

    authors: Mapping[str, Staff]
    waiting: Counter[UUID]
    episodes: frozenset[UUID]
    recorded: Mapping[str, tuple[UUID, str]]  # of each id in the record: whose fact, and its content


@transaction.atomic(durable=True)
def bring(*, actor: Staff, marks: Sequence[Mapping[str, str]]) -> list[Brought]:
    """Keep sealed marks, each for the author that the tablet names. The actor learns nothing of what they say.

    The same again is the same. What cannot be opened is kept too, for its author to see that there was something.
    """
    at = clock.now()
    opened = [_opened(mark) for mark in marks]
    known = _ask(marks, opened)
    rows: list[SealedMark] = []
    told: list[Brought] = []
    for mark, content in zip(marks, opened, strict=True):
        row, said = _judged(actor, mark, content, known, at)
        told.append(said)
        rows += [row] if row is not None else []
    SealedMark.objects.bulk_create(rows, ignore_conflicts=True)
    if rows:
        of = Counter(row.author.reference for row in rows)
        trail.record(actor, "sealed.brought", "staff", actor.reference, at=at, detail={"marks_of": dict(of)})
    return told


def _judged(
    actor: Staff, mark: Mapping[str, Any], content: Content | None, known: _Known, at: datetime
) -> tuple[SealedMark | None, Brought]:
    author = known.authors.get(mark["staff"])
    if author is None:
        return None, Brought(mark["id"], "refused", "nobody on the staff register has this reference")
    if content is not None and _is_recorded(author, mark["id"], content, known):
        return None, Brought(mark["id"], "known")
    if known.waiting[author.pk] >= MOST_WAITING:
        return None, Brought(mark["id"], "refused", "too many wait for this person already")
    known.waiting[author.pk] += 1
    enc, box = _bytes(mark["enc"]), _bytes(mark["box"])
    found = content is not None and content.episode_id in known.episodes
    row = SealedMark(
        author=author,
        mark=mark["id"],
        episode_id=content.episode_id if content is not None and found else None,
        key=mark["key"],
        enc=enc,
        box=box,
        digest=_digest(mark, enc, box),
        brought_by=actor,
        brought_at=at,
    )
    return row, Brought(mark["id"], "kept")


def _is_recorded(author: Staff, id_: str, content: Content, known: _Known) -> bool:
    """Whether the record holds this very fact, under the name of its author."""
    by, body = known.recorded.get(id_, (None, ""))
    return by == author.pk and _same(body, content.entry)


def _same(body: str, entry: Mapping[str, Any]) -> bool:
    had = orjson.loads(body)
    stamped = {"by": had["by"], "episode": had["episode"], **({"role": had["role"]} if "role" in had else {}), **entry}
    return same_content(had, stamped)


def _opened(mark: Mapping[str, str]) -> Content | None:
    enc, box = _bytes(mark["enc"]), _bytes(mark["box"])
    try:
        return content_of(author=mark["staff"], mark=mark["id"], key=mark["key"], enc=enc, box=box)
    except Unreadable:
        return None


def _ask(marks: Sequence[Mapping[str, str]], opened: Sequence[Content | None]) -> _Known:
    authors = {one.reference: one for one in Staff.objects.filter(reference__in={mark["staff"] for mark in marks})}
    ids = [str(content.entry["id"]) for content in opened if content is not None]
    ids = [one for one in ids if _is_uuid(one)]
    wanted = {content.episode_id for content in opened if content is not None}
    with beyond("whether sealed marks are in the record already, and how many wait: answered by yes and no alone"):
        waiting = SealedMark.objects.filter(author__in=authors.values(), settled_at__isnull=True)
        counts = Counter(waiting.values_list("author_id", flat=True))
        episodes = frozenset(Episode.objects.filter(pk__in=wanted).values_list("pk", flat=True))
        facts = EntryContent.objects.filter(entry__id__in=ids).values_list("entry__id", "entry__by_id", "body")
        recorded = {str(id_): (by, body) for id_, by, body in facts}
    return _Known(authors, counts, episodes, recorded)


def _is_uuid(text: str) -> bool:
    try:
        UUID(text)
    except ValueError:
        return False
    return True


def _bytes(text: str) -> bytes:
    return base64.b64decode(text, validate=True)


def _digest(mark: Mapping[str, str], enc: bytes, box: bytes) -> str:
    said = b"\n".join((mark["id"].encode(), mark["key"].encode(), enc, box))
    return hashlib.sha256(said).hexdigest()
