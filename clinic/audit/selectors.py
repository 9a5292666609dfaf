"""The trail as the records officer reads it: filtered, newest first, page by page. Nothing here can change a row."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from uuid import UUID
from zoneinfo import ZoneInfo

from django.db.models import Q, QuerySet

from clinic import access
from clinic.access import Action
from clinic.audit.models import TrailRow
from clinic.staff.models import Staff
from clinic.web.pages import Page, cut

PAGE = 100
MOST_EXPORTED = 200_000


@dataclass(frozen=True, slots=True)
class Wanted:
    """What to look for; everything empty means everything. Days are whole days in `zone`."""

    actor: UUID | None = None
    nobody: bool = False
    about: str = ""
    verb: str = ""
    first: date | None = None
    last: date | None = None
    zone: str = "UTC"

    def where(self) -> Q:
        """The filter that this makes."""
        found = Q()
        if self.nobody:
            found &= Q(actor__isnull=True)
        elif self.actor:
            found &= Q(actor_id=self.actor)
        if self.about:
            found &= _about(self.about)
        if self.verb:
            found &= Q(verb=self.verb)
        zone = ZoneInfo(self.zone)
        if self.first:
            found &= Q(at__gte=datetime(self.first.year, self.first.month, self.first.day, tzinfo=zone))
        if self.last:
            end = self.last + timedelta(days=1)
            found &= Q(at__lt=datetime(end.year, end.month, end.day, tzinfo=zone))
        return found


def _about(text: str) -> Q:
    """Rows about this: an id, the reference of an episode or of a member of staff, the number of a person.

    A reference stands for its whole episode, and a number for every episode of the person: the rows of their openings
    say which ids go with them.
    """
    try:
        return Q(subject_id=text) | Q(episode=UUID(text))
    except ValueError:
        openings = TrailRow.objects.filter(subject="episode", episode__isnull=False)
        named = openings.filter(Q(subject_id=text) | Q(detail__number=text))
        return Q(subject_id=text) | Q(episode__in=named.values("episode")) | Q(detail__number=text)


@dataclass(frozen=True, slots=True)
class Choices:
    """What can be chosen in the filters."""

    verbs: list[str]
    staff: list[tuple[UUID, str]]


def trail_page(actor: Staff, wanted: Wanted, *, at: datetime, before: int | None = None) -> Page[TrailRow]:
    """A page of rows older than the cursor (a row's number), newest first."""
    rows = _rows(actor, wanted, at)
    if before is not None:
        rows = rows.filter(number__lt=before)
    return cut(list(rows[: PAGE + 1]), PAGE, lambda row: row.number, newest=before is None)


def trail_rows(actor: Staff, wanted: Wanted, *, at: datetime) -> Iterator[TrailRow]:
    """All rows that match, for an export; read from the database piece by piece."""
    return _rows(actor, wanted, at)[:MOST_EXPORTED].iterator(chunk_size=1000)


def choices(actor: Staff, *, at: datetime) -> Choices:
    """The verbs that there are, and everybody who ever had an account."""
    access.permit(actor, Action.SEE_TRAIL, at)
    return Choices(
        verbs=list(TrailRow.objects.values_list("verb", flat=True).distinct().order_by("verb")),
        staff=list(Staff.objects.order_by("name").values_list("pk", "name")),
    )


def _rows(actor: Staff, wanted: Wanted, at: datetime) -> QuerySet[TrailRow]:
    access.permit(actor, Action.SEE_TRAIL, at)
    return TrailRow.objects.filter(wanted.where()).select_related("actor").order_by("-number")
