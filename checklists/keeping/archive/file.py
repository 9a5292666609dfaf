"""The archive as a zip file: the tables, the record as it goes back in, the protocols, one page to read, and a list of
all with their fingerprints.

Deterministic: names in order, one date for all. The record's lines are those of `export_record`, byte for byte.
"""

from __future__ import annotations

import hashlib
import io
import zipfile
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import datetime
from typing import Any

import orjson

from caseload.models import Episode, Person
from checklists.keeping.archive.page import page
from checklists.keeping.archive.tables import Table, plain, references, sources
from checklists.record.export import lines
from checklists.record.models import EntryContent, Head, ProtocolVersion
from clinic.staff.models import Staff

FORMAT = "person archive 1"
Progress = Callable[[str, int, int], None]


@dataclass(frozen=True, slots=True)
class Made:
    """The file, and its fingerprint."""

    content: bytes
    digest: str


def make(person: Person, *, at: datetime, asked_by: str, progress: Progress = lambda step, done, total: None) -> Made:
    """Make the archive of a person as the database has it now. `progress` hears of each part."""
    out, listed = io.BytesIO(), []
    when = (at.year, at.month, at.day, at.hour, at.minute, at.second // 2 * 2)
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED, compresslevel=6) as file:

        def put(name: str, content: bytes) -> None:
            file.writestr(_entry(name, when), content)
            listed.append({"name": name, "bytes": len(content), "sha256": hashlib.sha256(content).hexdigest()})

        total = _count(person)
        for done, (step, name, content) in enumerate(_parts(person)):
            progress(step, min(done, total), total)
            put(name, content)
        put("index.html", page(person, at=at, asked_by=asked_by))
        manifest = {
            "format": FORMAT,
            "person": person.number,
            "made_at": at.isoformat(),
            "asked_by": asked_by,
            "files": sorted(listed, key=lambda one: str(one["name"])),
        }
        file.writestr(_entry("manifest.json", when), orjson.dumps(manifest, option=orjson.OPT_INDENT_2))
    progress("done", total, total)
    content = out.getvalue()
    return Made(content, hashlib.sha256(content).hexdigest())


def _entry(name: str, when: tuple[int, int, int, int, int, int]) -> zipfile.ZipInfo:
    found = zipfile.ZipInfo(name, when)
    found.compress_type = zipfile.ZIP_DEFLATED
    found.external_attr = 0o600 << 16
    return found


Part = tuple[str, str, bytes]  # the words by which its progress is told, its name, its content


def _parts(person: Person) -> Iterator[Part]:
    yield from _record(person)
    yield from _tables(person)
    yield from _protocols(person)


def _count(person: Person) -> int:
    """How many parts there will be, about."""
    return 2 * len(_episodes(person)) + 2 * len(sources(person)) + 4


def _record(person: Person) -> Iterator[Part]:
    """Each episode as `import_record` and `replay` take it, and the salts that prove what each entry says."""
    for pk, reference in _episodes(person):
        yield "the record", f"record/{reference}.jsonl", b"".join(line + b"\n" for line in lines(pk))
        rows = EntryContent.objects.filter(entry__episode=pk).order_by("entry__number")
        salts = [{"entry": str(entry), "salt": bytes(salt).hex()} for entry, salt in rows.values_list("pk", "salt")]
        yield "the record", f"record/{reference}.salts.json", _json(salts)


def _tables(person: Person) -> Iterator[Part]:
    """Each table as JSON and as CSV, and the names of the staff to whom they refer."""
    named: set[str] = set()
    known = references()
    for name, rows in sources(person):
        table = Table(name, list(plain(rows, known)))
        named |= {text for row in table.rows for text in row.values() if isinstance(text, str)} & {*known.values()}
        yield from _both(table)
    written = EntryContent.objects.filter(entry__episode__person=person).values_list("entry__by", flat=True)
    rows = Staff.objects.filter(reference__in=named) | Staff.objects.filter(pk__in=written)
    staff = rows.order_by("reference").values("reference", "name", "is_active").distinct()
    yield from _both(Table("staff", [{**row} for row in staff]))


def _both(table: Table) -> Iterator[Part]:
    words = table.name.rpartition("/")[2].replace("_", " ")
    yield words, f"{table.name}.json", table.as_json()
    yield words, f"{table.name}.csv", table.as_csv()


def _protocols(person: Person) -> Iterator[Part]:
    """The documents by which the record was judged, as they were stored, and what follows from it now."""
    heads = list(Head.objects.filter(episode__person=person).select_related("episode"))
    for version in ProtocolVersion.objects.filter(pk__in={head.protocol_id for head in heads}).order_by("pk"):
        yield "protocols", f"protocols/{version}.json", version.document.encode()
    found = {
        head.episode.reference: {key: said["status"] for key, said in head.board.get("skills", {}).items()}
        for head in heads
    }
    yield "statuses", "record/statuses.json", _json(found)


def _episodes(person: Person) -> list[tuple[Any, str]]:
    return list(Episode.objects.filter(person=person).order_by("reference").values_list("pk", "reference"))


def _json(value: Any) -> bytes:
    return orjson.dumps(value, option=orjson.OPT_INDENT_2 | orjson.OPT_APPEND_NEWLINE)
