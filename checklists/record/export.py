"""Writing the record out: JSON Lines in the order of reception, one episode after the other, as `replay` and the import
take them."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import datetime
from typing import BinaryIO
from uuid import UUID

from django.db.models import Count
from django.utils.translation import gettext as _

from caseload.episode.models import Episode
from caseload.person.erased import erased_words
from checklists.record.models import EntryContent
from clinic.audit import trail
from clinic.errors import NotFound
from clinic.staff.models import Staff

AT_ONCE = 2_000


def chosen(references: Sequence[str]) -> list[tuple[UUID, str]]:
    """The episodes of these references, or all where none is named, in order of the reference. One that is unknown:
    NotFound."""
    rows = Episode.objects.filter(reference__in=references) if references else Episode.objects.all()
    found = list(rows.order_by("reference").values_list("pk", "reference"))
    missing = sorted(set(references) - {reference for _, reference in found})
    if missing:
        raise NotFound(_("There is no episode {missing}. Nothing was exported.").format(missing=", ".join(missing)))
    return found


def is_erased(episode_id: UUID) -> bool:
    """Whether the record of this episode was erased: its entries are known, and what they said is gone."""
    return Episode.objects.filter(pk=episode_id, person__erased_at__isnull=False).exists()


def erased_among(episodes: Sequence[tuple[UUID, str]]) -> list[tuple[str, str, int]]:
    """Those that were erased: reference, 'Erased on … because …', and how many entries it once had."""
    rows = Episode.objects.filter(pk__in=[pk for pk, _ in episodes], person__erased_at__isnull=False)
    counted = rows.select_related("person__site").annotate(had=Count("entries")).order_by("reference")
    return [(row.reference, erased_words(row.person), row.had) for row in counted]


def lines(episode_id: UUID) -> Iterator[bytes]:
    """The facts of one episode, without line feeds."""
    rows = EntryContent.objects.filter(entry__episode=episode_id).order_by("entry__number")
    for body in rows.values_list("body", flat=True).iterator(chunk_size=AT_ONCE):
        yield body.encode()


def export(references: Sequence[str], out: BinaryIO, *, actor: Staff | None, at: datetime) -> tuple[int, int]:
    """Write the record of some episodes, or of all, and leave a row in the trail for each; returns episodes and
    entries.

    The row is written before the first line: whatever left the house has been accounted for.
    """
    episodes = chosen(references)
    count = 0
    for pk, reference in episodes:
        trail.record(actor, "record.exported", "episode", reference, at=at, episode=pk)
        for line in lines(pk):
            out.write(line + b"\n")
            count += 1
    return len(episodes), count
