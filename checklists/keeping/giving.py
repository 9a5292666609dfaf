"""A person's archive asked for, made by the worker, handed out once."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime, timedelta
from uuid import UUID

from django.conf import settings
from django.db import transaction
from django.utils.translation import gettext as _

from caseload.models import Person
from caseload.person.erased import unless_erased
from caseload.writes import because, fit
from checklists.keeping.archive.file import Made, make
from checklists.keeping.models import Archive, ArchiveFile
from checklists.keeping.steps import person_to
from clinic import access, clock
from clinic.access import Action
from clinic.audit import trail
from clinic.errors import Conflict, NotFound
from clinic.outbox.post import publish
from clinic.staff.models import Staff


@dataclass(frozen=True, slots=True)
class Taken:
    """The file, with the name that it is saved under."""

    name: str
    content: bytes
    digest: str


@transaction.atomic(durable=True)
def ask_archive(*, actor: Staff, person_id: UUID, why: str) -> Archive:
    """Have a person's whole record put together. The worker makes it; whoever asked takes it, once."""
    at = clock.now()
    person = person_to(actor, Action.EXPORT_RECORD, person_id, at=at)
    row = Archive(
        person=person, why=because(why, _("Say for whom it is, and on which request.")), asked_by=actor, asked_at=at
    )
    fit(row)
    row.save(force_insert=True)
    trail.record(actor, "archive.asked", "archive", row.pk, at=at, detail={"number": person.number})
    publish("archive.asked", {"archive": str(row.pk)}, at=at, dedupe_key=f"archive.asked:{row.pk}")
    return row


@transaction.atomic(durable=True)
def take_archive(*, actor: Staff, archive_id: UUID) -> Taken:
    """The file, for who asked for it. It is gone from the server with that; whoever needs it again asks again."""
    at = clock.now()
    access.permit(actor, Action.EXPORT_RECORD, at)
    rows = Archive.objects.select_for_update(of=("self",)).select_related("person__site")
    row = access.get(actor, Action.EXPORT_RECORD, rows, at=at, pk=archive_id)
    if row.asked_by_id != actor.pk:
        raise Conflict(_("Somebody else asked for this archive. Ask for one of your own."))
    unless_erased(row.person)
    if row.made_at is None:
        raise Conflict(_("The archive is still being made."))
    file = ArchiveFile.objects.filter(pk=row.pk).first()
    if file is None:
        raise Conflict(_("The archive was taken already, or waited too long. Ask for a new one."))
    content = bytes(file.content)
    Archive.objects.filter(pk=row.pk).update(taken_at=at)
    ArchiveFile.objects.filter(pk=row.pk).delete()
    detail = {"archive": str(row.pk), "sha256": row.digest, "number": row.person.number}
    trail.record(actor, "person.exported", "person", row.person_id, at=at, detail=detail)
    return Taken(f"record-{row.person.number}-{at:%Y-%m-%d}.zip", content, row.digest)


def export_person(*, actor: Staff | None, number: str) -> Taken:
    """The same file at once, for the command. The row in the trail is written before anything leaves the house."""
    at = clock.now()
    person = Person.objects.select_related("site").filter(number__iexact=number.strip()).first()
    if person is None:
        raise NotFound(_("Nobody has this number. Nothing was exported."))
    unless_erased(person)
    if actor is not None:
        access.get(actor, Action.EXPORT_RECORD, Person.objects.all(), at=at, pk=person.pk)
    detail = {"number": person.number, "by": "command"}
    trail.record(actor, "person.exported", "person", person.pk, at=at, detail=detail)
    made = make(person, at=at, asked_by=actor.name if actor else "whoever runs the server")
    return Taken(f"record-{person.number}-{at:%Y-%m-%d}.zip", made.content, made.digest)


def make_asked(archive_id: UUID, at: datetime) -> None:
    """Make an archive that was asked for, as the worker: its progress is seen while it is made. Made already: nothing.

    A worker that dies in between begins again.
    """
    row = Archive.objects.select_related("asked_by").filter(pk=archive_id, made_at__isnull=True).first()
    if row is None:
        return
    person = Person.objects.select_related("site").get(pk=row.person_id)
    if person.erased_at is not None:
        return
    made = make(person, at=at, asked_by=row.asked_by.name, progress=_told(archive_id))
    _keep(archive_id, made, at)


def _told(archive_id: UUID) -> Callable[[str, int, int], None]:
    def progress(step: str, done: int, total: int) -> None:
        Archive.objects.filter(pk=archive_id).update(step=step[:80], done=done, total=total)

    return progress


@transaction.atomic
def _keep(archive_id: UUID, made: Made, at: datetime) -> None:
    whose = Archive.objects.values_list("person", flat=True).get(pk=archive_id)
    # the person first, as an erasure does: what was read before it must not be put down after it
    if Person.objects.select_for_update(no_key=True, of=("self",)).get(pk=whose).erased_at is not None:
        return
    row = Archive.objects.select_for_update().get(pk=archive_id)
    if row.made_at is not None:
        return  # another worker, after this one had been given up
    ArchiveFile.objects.create(archive=row, content=made.content)
    row.made_at, row.size, row.digest = at, len(made.content), made.digest
    row.save(update_fields=["made_at", "size", "digest"])
    detail = {"sha256": made.digest, "bytes": len(made.content)}
    trail.record(None, "archive.made", "archive", row.pk, at=at, detail=detail)


def drop_waiting(at: datetime) -> int:
    """Let the files go that nobody has taken in time; returns how many."""
    old = at - timedelta(hours=settings.ARCHIVE_HOURS)
    rows = Archive.objects.filter(made_at__lt=old, taken_at__isnull=True, dropped_at__isnull=True)
    with transaction.atomic():
        found = list(rows.select_for_update(skip_locked=True).values_list("pk", flat=True))
        ArchiveFile.objects.filter(pk__in=found).delete()
        Archive.objects.filter(pk__in=found).update(dropped_at=at)
        for pk in found:
            trail.record(None, "archive.dropped", "archive", pk, at=at)
    return len(found)
