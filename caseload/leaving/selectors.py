"""What is in somebody's hands: whom they carry and cover, now and to come, which sessions are planned with them."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime
from uuid import UUID

from django.db.models import QuerySet

from caseload.assignment.models import Assignment, Cover, ahead
from caseload.episode.models import Episode
from caseload.request.models import AdjustmentRequest, RequestState
from caseload.review.models import PlannedReview
from caseload.visit.models import Visit, VisitState
from clinic import access
from clinic.access import Action
from clinic.staff.models import Staff

OPEN_REQUESTS = (RequestState.ASKED, RequestState.SEEN)


@dataclass(frozen=True, slots=True)
class InHand:
    """One person, and what of theirs is in the hands of whoever leaves. `carries`: they are the therapist."""

    episode_id: UUID
    name: str
    number: str
    site: str
    carries: bool
    covers_until: datetime | None
    covers: bool
    visits: int
    next_visit: datetime | None
    reviews: int
    requests: int


@dataclass(frozen=True, slots=True)
class AtTheBench:
    """Requests that a prosthetist has looked at and not answered: they stay in the queue, in nobody's hands."""

    seen: int


def in_hand(actor: Staff, staff_id: UUID, *, at: datetime) -> list[InHand]:
    """Everybody of whom something is in a colleague's hands, by name. Nine statements at most."""
    assigned = Assignment.objects.filter(ahead(at), staff_id=staff_id)
    covers = {row.episode_id: row for row in Cover.objects.filter(ahead(at), staff_id=staff_id)}
    visits = Visit.objects.filter(staff_id=staff_id, state=VisitState.PLANNED, starts_at__gte=at)
    asked = AdjustmentRequest.objects.filter(asked_by_id=staff_id, state__in=OPEN_REQUESTS)
    carried = set(assigned.values_list("episode_id", flat=True))
    theirs = carried | set(covers) | _episodes(visits) | _episodes(asked)
    rows = Episode.objects.filter(pk__in=theirs, closed_at__isnull=True).select_related("person", "site")
    episodes = list(access.scoped(actor, Action.ASSIGN, rows, at=at).order_by("person__family_name", "pk"))
    planned: dict[UUID, list[datetime]] = {}
    for key, starts_at in visits.order_by("starts_at").values_list("episode_id", "starts_at"):
        planned.setdefault(key, []).append(starts_at)
    reviews = _count(PlannedReview.objects.filter(episode__in=carried, done_at__isnull=True, cancelled_at__isnull=True))
    requests = _count(asked)
    return [
        InHand(
            episode_id=episode.pk,
            name=episode.person.full_name,
            number=episode.person.number,
            site=episode.site.name,
            carries=episode.pk in carried,
            covers=episode.pk in covers,
            covers_until=covers[episode.pk].period.upper if episode.pk in covers else None,
            visits=len(planned.get(episode.pk, ())),
            next_visit=next(iter(planned.get(episode.pk, ())), None),
            reviews=reviews[episode.pk],
            requests=requests[episode.pk],
        )
        for episode in episodes
    ]


def at_the_bench(staff_id: UUID) -> AtTheBench:
    """What a prosthetist has looked at and not answered."""
    return AtTheBench(AdjustmentRequest.objects.filter(seen_by_id=staff_id, state=RequestState.SEEN).count())


def _episodes(rows: QuerySet[Visit] | QuerySet[AdjustmentRequest]) -> set[UUID]:
    return set(rows.values_list("episode_id", flat=True))


def _count(rows: QuerySet[PlannedReview] | QuerySet[AdjustmentRequest]) -> Counter[UUID]:
    keys: Iterable[UUID] = rows.values_list("episode_id", flat=True)
    return Counter(keys)
