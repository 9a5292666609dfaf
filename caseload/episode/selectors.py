"""An episode as its plan shows it, and what a colleague must know who takes over."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass, field
from datetime import date, datetime, timedelta
from uuid import UUID

from caseload.assignment.models import Assignment, Cover
from caseload.episode.models import Episode, Pause
from caseload.request.selectors import Asked, open_requests
from caseload.review.selectors import Due, open_reviews
from caseload.visit.models import Visit, VisitState
from caseload.words import day_words
from clinic import access, clock
from clinic.access import Action
from clinic.staff.models import Site, Staff


@dataclass(frozen=True, slots=True)
class Plan:
    """The head of a plan: whose it is, where, and whether it rests today."""

    episode_id: UUID
    version: int
    reference: str
    person_id: UUID
    name: str
    number: str
    second_identifier: str
    born_on: date
    side: str
    features: tuple[str, ...]
    site_id: UUID
    site: str
    zone: str
    closed_at: datetime | None
    pauses: tuple[tuple[date, date | None, str], ...]
    rests: bool

    @property
    def whose(self) -> str:
        """Name and both identifiers, as every form about a person shows them."""
        return f"{self.name} · born {day_words(self.born_on)} · {self.number} · {self.second_identifier}"


def plan(actor: Staff, episode_id: UUID, *, at: datetime) -> Plan:
    """The head of an episode's plan. NotFound where the person is not the actor's to see."""
    episode = access.get(
        actor, Action.SEE_PERSON, Episode.objects.select_related("person", "site"), at=at, pk=episode_id
    )
    today = clock.local_day(at, episode.site.time_zone)
    pauses = list(Pause.objects.filter(episode=episode, period__isempty=False).order_by("-period"))
    person = episode.person
    return Plan(
        episode_id=episode.pk,
        version=episode.version,
        reference=episode.reference,
        person_id=person.pk,
        name=person.full_name,
        number=person.number,
        second_identifier=person.second_identifier,
        born_on=person.born_on,
        side=episode.side,
        features=tuple(episode.features),
        site_id=episode.site_id,
        site=episode.site.name,
        zone=episode.site.time_zone,
        closed_at=episode.closed_at,
        pauses=tuple((row.period.lower, row.period.upper, row.reason) for row in pauses),
        rests=any(row.period.lower <= today and (not row.period.upper or today < row.period.upper) for row in pauses),
    )


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
    cover_until: datetime | None
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
    visits = defaultdict(list)
    coming = Visit.objects.filter(
        episode__in=keys, state=VisitState.PLANNED, starts_at__range=(at, at + timedelta(days))
    )
    for key, starts_at, staff in coming.order_by("starts_at").values_list("episode_id", "starts_at", "staff__name"):
        visits[key].append((starts_at, staff))
    reviews, asked = defaultdict(list), defaultdict(list)
    for review in open_reviews(actor, at=at):
        reviews[review.episode_id].append(review)
    for request in open_requests(actor, at=at):
        asked[request.episode_id].append(request)
    return [
        Handed(
            episode_id=episode.pk,
            reference=episode.reference,
            name=episode.person.full_name,
            number=episode.person.number,
            side=episode.side,
            site=episode.site.name,
            cover=covers[episode.pk].staff.name if episode.pk in covers else "",
            cover_until=covers[episode.pk].period.upper if episode.pk in covers else None,
            rests=rest.get(episode.pk, ""),
            visits=visits[episode.pk],
            reviews=reviews[episode.pk],
            requests=asked[episode.pk],
        )
        for episode in episodes
    ]


def sites() -> list[tuple[UUID, str]]:
    """Every site, as (id, name)."""
    return list(Site.objects.order_by("name").values_list("pk", "name"))
