"""Reviews that are planned, and how they stand."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass
from datetime import date, datetime
from uuid import UUID

from django.db.models import OuterRef, QuerySet, Subquery
from django.utils.translation import gettext as _

from caseload.assignment.models import Assignment
from caseload.review.due import due_state, due_words, fulfilled
from caseload.review.models import PlannedReview, Reminder, ReviewKind, Rung
from clinic import access, clock
from clinic.access import Action
from clinic.errors import NotFound
from clinic.staff.models import Staff


@dataclass(frozen=True, slots=True)
class Due:
    """A planned review as it stands on a day of its site. `state` is done, cancelled, or one of `due.due_state`."""

    review_id: UUID
    version: int
    episode_id: UUID
    person: str
    number: str
    site: str
    kind: str
    due_on: date
    state: str
    words: str
    days_late: int
    reminded: str
    escalated: bool
    therapist: str
    note: str
    entry: UUID | None = None
    done_on: date | None = None
    after_fall: bool = False


def open_reviews(
    actor: Staff, *, at: datetime, episode_id: UUID | None = None, episodes: Collection[UUID] | None = None
) -> list[Due]:
    """Every review neither done nor cancelled within the reach, or of these episodes; the longest overdue first."""
    rows = _open() if episode_id is None else _open().filter(episode_id=episode_id)
    return _rows(actor, rows if episodes is None else rows.filter(episode__in=episodes), at)


def overdue_reviews(actor: Staff, *, at: datetime, may: Action = Action.SEE_PERSON) -> list[Due]:
    """Open reviews whose day has passed where the person is seen; of those for whom the actor `may` do something."""
    perhaps = _open().filter(due_on__lte=at.date())  # local days are at most one ahead of UTC
    if may is not Action.SEE_PERSON:
        perhaps = access.scoped(actor, may, perhaps, at=at)
    return [row for row in _rows(actor, perhaps, at) if row.days_late > 0]


def _open() -> QuerySet[PlannedReview]:
    return PlannedReview.objects.filter(
        done_at__isnull=True, cancelled_at__isnull=True, episode__closed_at__isnull=True
    )


def reviews_of_episode(actor: Staff, episode_id: UUID, *, at: datetime) -> list[Due]:
    """Every review of an episode, also the done and the cancelled, by day."""
    return _rows(actor, PlannedReview.objects.filter(episode_id=episode_id), at)


def to_settle(actor: Staff, episode_id: UUID, *, at: datetime, falls: bool) -> list[tuple[Due, bool]]:
    """What is planned of an episode, and whether a review of now fulfils it where nobody says otherwise.

    `falls`: whether any waits, which it then looks at.
    """
    planned = open_reviews(actor, at=at, episode_id=episode_id)
    rows = list(_open().filter(episode_id=episode_id).select_related("episode__site").order_by("due_on", "pk"))
    day = clock.local_day(at, rows[0].episode.site.time_zone) if rows else at.date()
    own = {row.pk for row in fulfilled(rows, day, falls=falls, waits=falls)}
    return [(row, row.review_id in own) for row in planned]


def settled_by(actor: Staff, entry: UUID, *, at: datetime) -> list[Due]:
    """The planned reviews that a review in the record settled."""
    return _rows(actor, PlannedReview.objects.filter(entry=entry), at)


def review_of(actor: Staff, review_id: UUID, *, at: datetime) -> Due:
    """One planned review. NotFound where it is not the actor's to see."""
    found = _rows(actor, PlannedReview.objects.filter(pk=review_id), at)
    if not found:
        raise NotFound(_("There is no such review that you may see. Check the link, or ask a clinic lead."))
    return found[0]


def _rows(actor: Staff, rows: QuerySet[PlannedReview], at: datetime) -> list[Due]:
    carrier = Assignment.objects.filter(episode=OuterRef("episode"), period__contains=at).values("staff__name")
    last = Reminder.objects.filter(review=OuterRef("pk"), due_on=OuterRef("due_on")).order_by("-reached_at")
    seen = access.scoped(actor, Action.SEE_PERSON, rows, at=at).annotate(
        therapist=Subquery(carrier[:1]), rung=Subquery(last.values("rung")[:1])
    )
    return [_row(row, at) for row in seen.select_related("episode__person", "episode__site").order_by("due_on", "pk")]


def _row(row: PlannedReview, at: datetime) -> Due:
    today = clock.local_day(at, row.episode.site.time_zone)
    settled = "done" if row.done_at else "cancelled" if row.cancelled_at else ""
    rung: str | None = row.rung  # type: ignore[attr-defined]  # annotated above
    return Due(
        review_id=row.pk,
        version=row.version,
        episode_id=row.episode_id,
        person=row.episode.person.full_name,
        number=row.episode.person.number,
        site=row.episode.site.name,
        kind=row.named,
        due_on=row.due_on,
        state=settled or due_state(row.due_on, today),
        words=settled or due_words(row.due_on, today),
        days_late=0 if settled else max(0, (today - row.due_on).days),
        reminded=str(Rung(rung).label) if rung else "",
        escalated=rung == Rung.ESCALATED,
        therapist=row.therapist or "",  # type: ignore[attr-defined]  # annotated above
        note=row.note,
        entry=row.entry,
        done_on=clock.local_day(row.done_at, row.episode.site.time_zone) if row.done_at else None,
        after_fall=row.kind == ReviewKind.FALL,
    )
