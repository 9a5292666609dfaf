"""What a colleague must know who takes over: the plans of everybody whom somebody carries."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from typing import TypeVar
from uuid import UUID

from caseload.assignment.models import Assignment, Cover
from caseload.episode.models import Episode, Pause
from caseload.request.selectors import Asked, open_requests
from caseload.review.selectors import Due, open_reviews
from caseload.visit.models import Visit, VisitState
from caseload.words import last_words
from clinic import access
from clinic.access import Action
from clinic.staff.models import Staff

T = TypeVar("T")


@dataclass(frozen=True, slots=True)
class Handed:
    """One person of a handover: what is planned, what falls due, what was asked of the bench."""

    episode_id: UUID
    reference: str
    name: str
    number: str
    side: str
    site: str
    cover: str
    cover_until: str
    rests: str
    visits: list[tuple[datetime, str]] = field(default_factory=list)
    reviews: list[Due] = field(default_factory=list)
    requests: list[Asked] = field(default_factory=list)


def handover(actor: Staff, away_id: UUID, *, at: datetime, days: int = 28) -> list[Handed]:
    """Everybody whom a therapist carries and the actor may see, with what a colleague must know for the next days.

    A lead sees all of them, the therapist their own, whoever covers those whom they cover now. Six statements at most.
    """
    carried = Assignment.objects.filter(staff_id=away_id, period__contains=at).values("episode_id")
    rows = Episode.objects.filter(closed_at__isnull=True, pk__in=carried).select_related("person", "site")
    episodes = list(access.scoped(actor, Action.SEE_PERSON, rows, at=at).order_by("person__family_name", "pk"))
    keys = [episode.pk for episode in episodes]
    covers = {
        row.episode_id: row
        for row in Cover.objects.filter(episode__in=keys, period__contains=at).select_related("staff")
    }
    rest = dict(Pause.objects.filter(episode__in=keys, period__contains=at.date()).values_list("episode_id", "reason"))
    visits = _by_episode(_coming(keys, at, days))
    reviews = _by_episode((row.episode_id, row) for row in open_reviews(actor, at=at, episodes=keys))
    asked = _by_episode((row.episode_id, row) for row in open_requests(actor, at=at, episodes=keys))
    return [
        Handed(
            episode_id=episode.pk,
            reference=episode.reference,
            name=episode.person.full_name,
            number=episode.person.number,
            side=episode.side,
            site=episode.site.name,
            cover=covers[episode.pk].staff.name if episode.pk in covers else "",
            cover_until=_until(covers.get(episode.pk), episode.site.time_zone),
            rests=rest.get(episode.pk, ""),
            visits=visits[episode.pk],
            reviews=reviews[episode.pk],
            requests=asked[episode.pk],
        )
        for episode in episodes
    ]


def _until(cover: Cover | None, zone: str) -> str:
    return last_words(cover.period.upper, zone) if cover else ""


def _coming(keys: Sequence[UUID], at: datetime, days: int) -> Iterator[tuple[UUID, tuple[datetime, str]]]:
    """The sessions that are planned for the next days, soonest first: episode, then when and with whom."""
    ahead = (at, at + timedelta(days=days))
    rows = Visit.objects.filter(episode__in=keys, state=VisitState.PLANNED, starts_at__range=ahead).order_by(
        "starts_at"
    )
    for key, starts_at, staff in rows.values_list("episode_id", "starts_at", "staff__name"):
        yield key, (starts_at, staff)


def _by_episode(pairs: Iterable[tuple[UUID, T]]) -> dict[UUID, list[T]]:
    found: dict[UUID, list[T]] = defaultdict(list)
    for key, value in pairs:
        found[key].append(value)
    return found
