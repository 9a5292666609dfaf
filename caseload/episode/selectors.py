"""An episode as its plan shows it, and what a colleague must know who takes over."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime
from uuid import UUID
from zoneinfo import ZoneInfo

from django.utils.translation import gettext as _

from caseload.episode.models import Episode, Pause
from caseload.person.erased import unless_erased
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
    language: str  # the person's, as a BCP 47 tag
    side: str
    features: tuple[str, ...]
    knee_known: bool
    site_id: UUID
    site: str
    zone: str
    closed_at: datetime | None
    pauses: tuple[tuple[date, date | None, str], ...]
    rests: bool

    @property
    def knee(self) -> tuple[str, ...] | None:
        """What the knee has; None where nobody knows it yet."""
        return self.features if self.knee_known else None

    @property
    def whose(self) -> str:
        """Name and both identifiers, as every form about a person shows them."""
        born = _("born {day}").format(day=day_words(self.born_on))
        return f"{self.name} · {born} · {self.number} · {self.second_identifier}"

    def local(self, at: datetime) -> datetime:
        """An instant by the site's clocks."""
        return at.astimezone(ZoneInfo(self.zone))


def plan(actor: Staff, episode_id: UUID, *, at: datetime, action: Action = Action.SEE_PERSON) -> Plan:
    """The head of an episode's plan, for whoever may do `action` with it. NotFound where the person is not the actor's
    to see, Denied where only the action is not theirs; erased: Gone."""
    rows = Episode.objects.select_related("person__site", "site")
    episode = access.get(actor, action, rows, at=at, pk=episode_id)
    unless_erased(episode.person)
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
        language=person.language,
        side=episode.side,
        features=tuple(episode.features),
        knee_known=episode.knee is not None,
        site_id=episode.site_id,
        site=episode.site.name,
        zone=episode.site.time_zone,
        closed_at=episode.closed_at,
        pauses=tuple((row.period.lower, row.period.upper, row.reason) for row in pauses),
        rests=any(row.period.lower <= today and (not row.period.upper or today < row.period.upper) for row in pauses),
    )


def sites() -> list[tuple[UUID, str]]:
    """Every site, as (id, name)."""
    return list(Site.objects.order_by("name").values_list("pk", "name"))
