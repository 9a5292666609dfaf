"""Reading what goes into a bundle, as it stands in the database: what is wrong there is wrong in the bundle."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Any
from uuid import UUID

import orjson
import rfc8785
from django.conf import settings
from django.db import connection

from checklists.keeping.models import Erased
from checklists.proof.around import striking, withdrawing
from checklists.proof.bundle import About, Bundle, Entry, Place, Row, Signed
from checklists.proof.finding import Found
from checklists.proof.places import Tree, history
from checklists.record.leaf import ENTRY
from checklists.record.models import EntryContent, ProtocolVersion, SignedEvidence
from checklists.signoff.models import Signature
from clinic.audit.leaf import TRAIL
from clinic.ledger import keys, proofs, stamps
from clinic.ledger.models import Checkpoint

SIGNED = ("skill.signed_off", "skill.sign_off_withdrawn")
ERASURE = ("erasure.confirmed", "erasure.reapplied")
_ENTRIES = f"""
SELECT number, id, kind, commitment, {ENTRY.sql()} FROM {ENTRY.table} WHERE episode_id = %s ORDER BY number
"""  # noqa: S608 - names of ours
_TRAIL = f"""
SELECT number, {TRAIL.sql()} FROM {TRAIL.table} WHERE (episode = %(episode)s AND verb = ANY (%(signed)s)
    AND detail->>'entry' = ANY (%(entries)s)) OR (subject_id = ANY (%(erasures)s) AND verb = ANY (%(erasure)s))
ORDER BY number
"""  # noqa: S608 - names of ours


@dataclass(frozen=True, slots=True)
class _Fact:
    """One row of the record, with its content as far as there is one."""

    number: int
    id: UUID
    kind: str
    commitment: str
    row: str
    content: EntryContent | None

    @property
    def said(self) -> Mapping[str, Any]:
        """The content, or nothing."""
        said: Mapping[str, Any] = orjson.loads(self.content.body) if self.content else {}
        return said


def gathered(found: Found, *, at: datetime, notes: Sequence[str] = ()) -> Bundle:
    """The bundle about a sign-off or an episode, under the newest checkpoint. `notes`: checkpoints that somebody kept
    elsewhere, with which it shall be comparable."""
    newest = proofs.newest()
    tree = Tree(newest.size if newest else 0)
    record = _record(found.episode.pk)
    chosen = record if found.sign_off is None else _around(found.sign_off.id, record)
    erased = _erased(found)
    places = tree.places(ENTRY, [fact.number for fact in chosen])
    trail = _trail(found, [str(fact.id) for fact in chosen], [one for one, _ in erased])
    trail_places = tree.places(TRAIL, [number for number, _ in trail])
    signed = _signed(chosen, record)
    why = "; ".join(words for _, words in erased)
    entries = [_entry(fact, places.get(fact.number), signed.get(fact.id), why) for fact in chosen]
    last = max((place.position for place in (*places.values(), *trail_places.values())), default=None)
    stamped = _stamped(last, tree.size)
    notes = [*notes, stamped[0]] if stamped else notes
    return Bundle(
        about=_about(found, at),
        entries=entries,
        ring=keys.ring().dump(),
        checkpoint=newest.note if newest else "",
        history=history(tree, [last, *(_position(places, fact) for fact in chosen if fact.id in signed)], notes, at),
        trail=[Row(row, trail_places.get(number)) for number, row in trail],
        protocols=_protocols(signed.values()),
        stamped=stamped,
    )


def _position(places: Mapping[int, Place], fact: _Fact) -> int | None:
    place = places.get(fact.number)
    return place.position if place else None


def _stamped(last: int | None, size: int) -> tuple[str, bytes] | None:
    """The earliest checkpoint with a time stamp of an authority that covers all these rows: its note, and the stamp."""
    folder = Path(settings.LEDGER_STAMPS)
    for one in stamps.sizes(folder) if last is not None else ():
        if last is not None and last < one <= size:
            row = Checkpoint.objects.filter(size=one).order_by("number").first()
            return (row.note, stamps.kept(folder, one) or b"") if row else None
    return None


def _about(found: Found, at: datetime) -> About:
    episode = found.episode
    kind = "episode" if found.sign_off is None else "sign_off"
    reference = episode.reference if found.sign_off is None else str(found.sign_off.id)
    made_at = at.astimezone(UTC).isoformat(timespec="seconds").replace("+00:00", "Z")
    return About(kind, reference, str(episode.pk), episode.reference, made_at)


def _record(episode_id: UUID) -> list[_Fact]:
    """The whole episode in the order of reception, each row as its canonical text."""
    contents = {one.entry_id: one for one in EntryContent.objects.filter(entry__episode=episode_id)}
    return [
        _Fact(number, id_, kind, bytes(commitment).hex(), row, contents.get(id_))
        for number, id_, kind, commitment, row in _rows(_ENTRIES, [episode_id])
    ]


def _around(sign_off: UUID, record: Sequence[_Fact]) -> list[_Fact]:
    """The sign-off, the attempts of its evidence, what withdrew it, and what struck any of these out."""
    (about,) = (fact for fact in record if fact.id == sign_off)
    evidence = SignedEvidence.objects.filter(entry__id=sign_off).values_list("evidence", flat=True).first()
    ids = {str(sign_off), *(one["id"] for one in orjson.loads(evidence or "{}").get("attempts", ()))}
    ids |= {str(fact.id) for fact in withdrawing(about, record)}
    ids |= {str(fact.id) for fact in striking(ids, record)}
    return [fact for fact in record if str(fact.id) in ids]


def _signed(chosen: Iterable[_Fact], record: Sequence[_Fact]) -> dict[UUID, Signed]:
    """Entry → what was signed with it."""
    kept = {fact.id: fact for fact in chosen}
    rows = SignedEvidence.objects.filter(entry__id__in=list(kept))
    evidence: dict[UUID, str] = {row.entry.id: row.evidence for row in rows.select_related("entry")}
    texts = Signature.objects.filter(entry__id__in=list(evidence)).select_related("entry")
    return {
        row.entry.id: Signed(
            signature=row.text,
            evidence=evidence[row.entry.id],
            before=[fact.commitment for fact in record if fact.number < kept[row.entry.id].number],
        )
        for row in texts
    }


def _entry(fact: _Fact, place: Place | None, signed: Signed | None, why: str) -> Entry:
    content = fact.content
    if content is None:
        return Entry(fact.row, place, None, None, erased=why or None, signed=signed)
    return Entry(fact.row, place, content.body, bytes(content.salt).hex(), signed=signed)


def _erased(found: Found) -> list[tuple[str, str]]:
    """The erasures of this person that were done: id, and the words that stay."""
    rows = Erased.objects.filter(erasure__person=found.episode.person_id).select_related("erasure")
    return [
        (str(row.pk), f"{row.at:%Y-%m-%d}, {row.erasure.ground}: {row.erasure.reason}") for row in rows.order_by("at")
    ]


def _trail(found: Found, entries: Sequence[str], erasures: Sequence[str]) -> list[tuple[int, str]]:
    """The rows of the trail that account for the signatures and the erasures: number and canonical text."""
    values = {"episode": found.episode.pk, "signed": list(SIGNED), "entries": list(entries)}
    values |= {"erasures": list(erasures), "erasure": list(ERASURE)}
    return [(number, row) for number, row in _rows(_TRAIL, values)]


def _protocols(signed: Iterable[Signed]) -> dict[str, bytes]:
    """The documents that the evidence names, as canonical bytes, by reference."""
    wanted = {orjson.loads(one.evidence).get("protocol") for one in signed} - {None}
    return {
        str(row): rfc8785.dumps(orjson.loads(row.document))
        for row in ProtocolVersion.objects.all()
        if str(row) in wanted
    }


def _rows(statement: str, values: Any) -> list[tuple[Any, ...]]:
    with connection.cursor() as cursor:
        cursor.execute(statement, values)
        return list(cursor.fetchall())
