"""The bench's own clinic, in a database of its own: facts and heads by COPY, the few rows around them by the models.

The facts are simulated courses, every head is folded from them by the programme's own code: what is measured meets
nothing that could not have been recorded.
"""

from __future__ import annotations

import hashlib
import uuid
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from uuid import UUID

import orjson
from django.db import connection, transaction

from caseload.models import AdjustmentRequest, Assignment, Episode, Person, PlannedReview, Visit
from checklists.adoption import steps as adoption
from checklists.domain import Episode as Fold
from checklists.domain import Protocol, parse_entry
from checklists.record import board, protocols
from checklists.record.leaf import ENTRY as LEAF
from checklists.speed.histories import BEGINS, Course, copy_of, reference_of
from checklists.speed.recording import Writer
from clinic.ledger.mac import stamp
from clinic.staff.models import RoleTerm, Site, Staff
from clinic.staff.roles import Role

A_CASELOAD = 40  # people of one therapist
JOINED = datetime(2020, 1, 1, tzinfo=UTC)
SALT = b"\0" * 16
TABLES = {
    "checklists_entry": (
        "number, id, episode_id, kind, at, by_id, received_at, sender_id, door, commitment, leaf, mac"
    ),
    "checklists_entrycontent": "entry_id, body, salt",
    "checklists_head": "episode_id, protocol_id, snapshot, board, stale_at, last_at, entries, updated_at",
}


@dataclass(slots=True)
class Clinic:
    """What stands in the database so far."""

    site: Site
    recorder: Staff
    protocol: Protocol
    protocol_id: int
    at: datetime
    episodes: int = 0
    facts: int = 0


def found(at: datetime) -> Clinic:
    """An empty clinic: one site, and the therapist in whose name the courses were recorded."""
    version = protocols.current(at)
    site = Site.objects.create(name="Bench", time_zone="Europe/London")
    recorder = _therapist(site, "ar-runa")
    adoption.write(recorder, version, clinic=site.name, at=at)
    return Clinic(site, recorder, protocols.loaded(version.pk), version.pk, at)


def _therapist(site: Site, reference: str) -> Staff:
    staff = Staff.objects.create(reference=reference, username=reference, name=reference, site=site, joined_at=JOINED)
    RoleTerm.objects.create(staff=staff, role=Role.THERAPIST, period=(JOINED.date(), None))
    return staff


def load(clinic: Clinic, courses: list[Course], facts: int) -> None:
    """Add whole caseloads until so many facts stand, and let the database learn how much that is."""
    size = len(courses[0].texts)
    while clinic.facts < facts:
        many = min(A_CASELOAD, -(-(facts - clinic.facts) // size))
        _caseload(clinic, [courses[(clinic.episodes + n) % len(courses)] for n in range(many)])
    with connection.cursor() as cursor:
        cursor.execute("ANALYZE")


@transaction.atomic
def _caseload(clinic: Clinic, courses: list[Course]) -> None:
    name = f"bench-{clinic.episodes // A_CASELOAD:04}"
    carrier = Staff.objects.filter(username=name).first() or _therapist(clinic.site, name)
    first = clinic.episodes
    episodes = [_episode(clinic, first + place, course) for place, course in enumerate(courses)]
    Person.objects.bulk_create(one.person for one in episodes)
    Episode.objects.bulk_create(episodes)
    Assignment.objects.bulk_create(
        Assignment(episode=one, staff=carrier, period=(one.created_at, None), made_by=carrier) for one in episodes
    )
    _around(clinic, episodes, carrier)
    entries, contents, heads = [], [], []
    numbers = iter(_numbers(sum(len(course.texts) for course in courses)))
    for place, (course, episode) in enumerate(zip(courses, episodes, strict=True)):
        texts = copy_of(course, first + place)
        for fact_id, text in texts:
            entries.append(_entry(next(numbers), fact_id, episode.pk, clinic.recorder.pk, text))
            contents.append(f"{fact_id}\t{text}\t\\\\x{SALT.hex()}\n")
        heads.append(_head(clinic, episode, [text for _, text in texts]))
        clinic.facts += len(texts)
    for table, lines in zip(TABLES, (entries, contents, heads), strict=True):
        _copy(table, lines)
    clinic.episodes += len(courses)


def _numbers(many: int) -> list[int]:
    with connection.cursor() as cursor:
        cursor.execute("SELECT nextval('checklists_entry_number_seq') FROM generate_series(1, %s)", [many])
        return [number for (number,) in cursor.fetchall()]


def _entry(number: int, fact_id: str, episode: UUID, by: UUID, text: str) -> str:
    """A row of the record as a line of COPY, stamped as the write path stamps it."""
    fact = orjson.loads(text)
    at = datetime.fromisoformat(fact["at"])
    proof = hashlib.sha256(SALT + text.encode()).digest()
    values = {
        "number": number,
        "id": fact_id,
        "episode_id": episode,
        "kind": fact["kind"],
        "at": at,
        "by_id": by,
        "received_at": at,
        "sender_id": by,
        "door": "import",
        "commitment": proof,
    }
    hashes = "\t".join(f"\\\\x{one.hex()}" for one in (proof, *stamp(LEAF, values)))
    return "\t".join(map(str, list(values.values())[:-1])) + f"\t{hashes}\n"


def _episode(clinic: Clinic, number: int, course: Course) -> Episode:
    name = f"Bench {number:06}"
    person = Person(
        number=name,
        second_identifier=name,
        given_name="Bench",
        family_name=f"Person{number}",
        born_on=date(1960, 1, 1),
        site=clinic.site,
        created_at=JOINED,
    )
    begins = datetime(BEGINS.year, BEGINS.month, BEGINS.day, tzinfo=UTC)
    return Episode(
        reference=reference_of(number),
        person=person,
        site=clinic.site,
        created_at=begins,
        opened_at=begins,
        side=course.side,
        features=course.facts[0]["features"],
    )


def _around(clinic: Clinic, episodes: list[Episode], carrier: Staff) -> None:
    """Next sessions for all; for some a review that is overdue or a request that is open."""
    at = clinic.at
    Visit.objects.bulk_create(
        Visit(episode=one, site=clinic.site, staff=carrier, starts_at=at + timedelta(hours=1 + place))
        for place, one in enumerate(episodes)
    )
    PlannedReview.objects.bulk_create(
        PlannedReview(episode=one, due_on=at.date() - timedelta(days=3), planned_by=carrier, planned_at=at)
        for one in episodes[::10]
    )
    AdjustmentRequest.objects.bulk_create(
        AdjustmentRequest(episode=one, setting="alignment", text="…", asked_by=carrier, asked_at=at)
        for one in episodes[::8]
    )


def _head(clinic: Clinic, episode: Episode, texts: list[str]) -> str:
    """The head as the write path would have left it."""
    entries = [parse_entry(orjson.loads(text), clinic.protocol) for text in texts]
    fold = Fold.replay(clinic.protocol, entries, reference=episode.reference).episode
    shown = board.of(fold, clinic.at)
    stale = shown.stale_at.isoformat() if shown.stale_at else "\\N"
    row = shown.body.decode().replace("\\", "\\\\")
    values = (
        episode.pk,
        clinic.protocol_id,
        f"\\\\x{fold.snapshot().hex()}",
        row,
        stale,
        fold.at,
        len(texts),
        clinic.at,
    )
    return "\t".join(str(value) for value in values) + "\n"


def _copy(table: str, lines: Iterable[str]) -> None:
    """By way of a table without policies: COPY does not ask those, and so may not fill a table that has some."""
    columns = TABLES[table]
    connection.ensure_connection()
    with connection.connection.cursor() as cursor:
        cursor.execute(f"CREATE TEMP TABLE loading AS SELECT {columns} FROM {table} LIMIT 0")  # noqa: S608 - names from TABLES
        with cursor.copy(f"COPY loading ({columns}) FROM STDIN") as copy:
            copy.write("".join(lines))
        cursor.execute(f"INSERT INTO {table} ({columns}) SELECT {columns} FROM loading")  # noqa: S608 - our own names
        cursor.execute("DROP TABLE loading")


def writer_of(username: str, reference: str, at: datetime) -> Writer:
    """Somebody who carries an episode, on the point of recording there: the start check was two hours before `at`."""
    from checklists.record.services import record_entries

    staff = Staff.objects.get(username=username)
    episode_id: UUID = Episode.objects.values_list("pk", flat=True).get(reference=reference)
    since = at - timedelta(hours=2)
    steps = dict.fromkeys(("skin", "fit", "footwear", "mode"), True)
    check = {
        "id": str(uuid.uuid4()),
        "kind": "check",
        "at": since.isoformat(),
        "name": "start_of_session",
        "steps": steps,
    }
    record_entries(actor=staff, episode_id=episode_id, entries=[check])
    return Writer(staff, episode_id, reference, since)


def carrier_of(number: int) -> tuple[str, str]:
    """Username and reference of the therapist and episode with this number."""
    return f"bench-{number // A_CASELOAD:04}", reference_of(number)


def the_reader() -> Staff:
    """The therapist whose board is read: forty people, whatever the size of the clinic."""
    return Staff.objects.select_related("site").get(username="bench-0000")
