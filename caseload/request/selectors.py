"""What was asked of the bench, and for how long it has stood there."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass
from datetime import datetime
from uuid import UUID

from django.db.models import OuterRef, Q, QuerySet, Subquery
from django.utils.translation import gettext as _

from caseload.assignment.models import Assignment
from caseload.request.models import CHANGED_TO, AdjustmentRequest, RequestState
from caseload.visit.models import Visit, VisitState
from clinic import access, clock
from clinic.access import Action
from clinic.errors import NotFound
from clinic.staff.models import Staff

OLD_DAYS = 28  # from here on a request stands out (the clinic's default; common practice, no source)


@dataclass(frozen=True, slots=True)
class Asked:
    """One request as a list shows it."""

    request_id: UUID
    version: int
    episode_id: UUID
    person: str
    number: str
    setting: str
    setting_words: str
    text: str
    state: str
    state_words: str
    asked_by: str
    asked_at: datetime
    days: int
    seen_by: str
    seen_at: datetime | None
    answer: str
    done_by: str
    done_at: datetime | None
    therapist: str
    next_visit: datetime | None
    due_today: datetime | None  # planned for earlier today, and not begun
    entry: UUID | None  # the change that answered it

    @property
    def is_old(self) -> bool:
        """Whether it has stood open for four weeks."""
        return self.state in (RequestState.ASKED, RequestState.SEEN) and self.days >= OLD_DAYS


def open_requests(actor: Staff, *, at: datetime, episodes: Collection[UUID] | None = None) -> list[Asked]:
    """The queue of the bench within the actor's reach, or what is asked about these episodes; the oldest first."""
    rows = AdjustmentRequest.objects.filter(state__in=[RequestState.ASKED, RequestState.SEEN])
    if episodes is not None:
        rows = rows.filter(episode__in=episodes)
    return _rows(actor, rows.filter(episode__closed_at__isnull=True).order_by("asked_at", "pk"), at)


def answered_requests(actor: Staff, *, since: datetime, at: datetime) -> list[Asked]:
    """What was answered since an instant within the actor's reach, done or declined; the latest first."""
    return _rows(actor, AdjustmentRequest.objects.filter(done_at__gte=since).order_by("-done_at", "pk"), at)


def told_since(actor: Staff, since: Mapping[UUID, datetime | None], *, at: datetime) -> list[Asked]:
    """What the bench said to requests about each of these episodes after an instant of its own, or ever where there is
    none: done, declined, or that it will see to it."""
    told = Q(pk__isnull=True)
    for episode, last in since.items():
        later = Q(done_at__gt=last) | Q(state=RequestState.SEEN, seen_at__gt=last) if last else Q(seen_at__isnull=False)
        told |= Q(episode=episode) & later
    return _rows(actor, AdjustmentRequest.objects.filter(told).order_by("seen_at", "pk"), at)


def requests_of_episode(actor: Staff, episode_id: UUID, *, at: datetime) -> list[Asked]:
    """Every request about an episode, newest first."""
    return _rows(actor, AdjustmentRequest.objects.filter(episode_id=episode_id).order_by("-asked_at", "pk"), at)


def request_of(actor: Staff, request_id: UUID, *, at: datetime) -> Asked:
    """One request. NotFound where it is not the actor's to see."""
    found = _rows(actor, AdjustmentRequest.objects.filter(pk=request_id), at)
    if not found:
        raise NotFound(_("There is no such request that you may see. Check the link, or ask a clinic lead."))
    return found[0]


def _rows(actor: Staff, rows: QuerySet[AdjustmentRequest], at: datetime) -> list[Asked]:
    carrier = Assignment.objects.filter(episode=OuterRef("episode"), period__contains=at).values("staff__name")
    comes = Visit.objects.filter(episode=OuterRef("episode"), starts_at__gte=at, state=VisitState.PLANNED)
    waits = Visit.objects.filter(episode=OuterRef("episode"), starts_at__lt=at, state=VisitState.PLANNED)
    seen = access.scoped(actor, Action.SEE_REQUESTS, rows, at=at).annotate(
        therapist=Subquery(carrier[:1]),
        next_visit=Subquery(comes.order_by("starts_at").values("starts_at")[:1]),
        waits=Subquery(waits.order_by("-starts_at").values("starts_at")[:1]),
    )
    people = seen.select_related("episode__person", "episode__site", "asked_by", "seen_by", "done_by")
    return [_row(row, at) for row in people]


def _row(row: AdjustmentRequest, at: datetime) -> Asked:
    zone = row.episode.site.time_zone
    waits: datetime | None = row.waits  # type: ignore[attr-defined]  # annotated above
    today = clock.local_day(at, zone)
    return Asked(
        request_id=row.pk,
        version=row.version,
        episode_id=row.episode_id,
        person=row.episode.person.full_name,
        number=row.episode.person.number,
        setting=row.setting,
        setting_words=row.get_setting_display(),
        text=row.text,
        state=row.state,
        state_words=_("will be seen to") if row.state == RequestState.SEEN else row.get_state_display(),
        asked_by=row.asked_by.name,
        asked_at=row.asked_at,
        days=(today - clock.local_day(row.asked_at, zone)).days,
        seen_by=row.seen_by.name if row.seen_by else "",
        seen_at=row.seen_at,
        answer=_answer(row),
        done_by=row.done_by.name if row.done_by else "",
        done_at=row.done_at,
        therapist=row.therapist or "",  # type: ignore[attr-defined]  # annotated above
        next_visit=row.next_visit,  # type: ignore[attr-defined]  # annotated above
        due_today=waits if waits and clock.local_day(waits, zone) == today else None,
        entry=row.entry,
    )


def _answer(row: AdjustmentRequest) -> str:
    """What was answered: the program's own words of it in the reader's language."""
    began = CHANGED_TO.format(value="")
    if row.state == RequestState.DONE and row.answer.startswith(began):
        return _(CHANGED_TO).format(value=row.answer.removeprefix(began))
    return row.answer
