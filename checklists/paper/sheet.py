"""The sheets of a day without power: where each person stands, page-shaped, with the record as it is now."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime
from uuid import UUID

from django.db.models import QuerySet

from caseload.episode.models import Episode
from caseload.person.erased import unless_erased
from checklists.paper.layout import ATTEMPTS, PAPER
from checklists.paper.limits import Told, Why, limits, told
from checklists.person.first import first_lines
from checklists.person.heads import Standing, standings
from checklists.person.selectors import Knee, knees_of
from checklists.person.settings import Change, changes
from checklists.pictures import Tread
from checklists.today.coming import who_comes
from checklists.today.rows import feature_words
from checklists.words.tables import protocol_words
from clinic import access
from clinic.access import Action
from clinic.staff.models import Staff

LONG = 1_600  # letters of reasons; measured on Letter, the shorter page
LINES, FEWER = (
    range(ATTEMPTS),
    range(ATTEMPTS - 1),
)  # blank lines for attempts: what fits on a page of either size beside 25 skills


@dataclass(frozen=True, slots=True)
class Sheet:
    """One person's sheet. `limits`: how far each skill may be tried, and `whys` the rules against more; `not_theirs`:
    skills that do not apply."""

    episode: Episode
    features: str
    protocol: str
    knees: Sequence[Knee]
    check_first: Sequence[str]
    settings: Sequence[Change]
    limits: Sequence[Told]
    whys: Sequence[Why]
    not_theirs: Sequence[Tread]

    @property
    def long(self) -> bool:
        """Whether so much stands against so many skills that it is set smaller, to stay on one page."""
        return sum(len(own) for one in self.limits for _, own in one.own) > LONG

    @property
    def lines(self) -> range:
        """The blank lines for attempts."""
        return FEWER if self.long else LINES

    @property
    def legend(self) -> list[str]:
        """What is put into the box of a step."""
        return list(PAPER.values())

    @property
    def never(self) -> list[Told]:
        """Skills that must not be tried on any rung."""
        return [one for one in self.limits if not one.support]

    @property
    def tried(self) -> list[Told]:
        """Skills that may be tried, each as far as it says."""
        return [one for one in self.limits if one.support]


def sheets_of_a_day(actor: Staff, day: date, *, at: datetime) -> list[Sheet]:
    """A sheet for everybody who comes on a day and whom the actor may print, in the order in which they come; each says
    how far things are now."""
    access.permit(actor, Action.PRINT_PERSON, at)
    keys = list(dict.fromkeys(visit.episode_id for visit in who_comes(actor, at=at, day=day)))
    rows = access.scoped(actor, Action.PRINT_PERSON, _episodes().filter(pk__in=keys), at=at)
    kept = rows.filter(person__erased_at__isnull=True)
    return _sheets(actor, sorted(kept, key=lambda row: keys.index(row.pk)), at)


def sheet_of(actor: Staff, episode_id: UUID, *, at: datetime) -> list[Sheet]:
    """The sheet of one person. Denied or NotFound where it is not the actor's to print."""
    episode = access.get(actor, Action.PRINT_PERSON, _episodes(), at=at, pk=episode_id)
    unless_erased(episode.person)
    return _sheets(actor, [episode], at)


def _episodes() -> QuerySet[Episode]:
    return Episode.objects.select_related("person", "site", "head")


def _sheets(actor: Staff, episodes: Sequence[Episode], at: datetime) -> list[Sheet]:
    stand = standings([row.pk for row in episodes], at=at)
    return [_sheet(actor, row, stand[row.pk], at) for row in episodes if row.pk in stand]


def _sheet(actor: Staff, episode: Episode, standing: Standing, at: datetime) -> Sheet:
    treads, document = standing.treads(both=episode.side == "both"), standing.protocol.document
    latest = {(one.setting, one.knee): one for one in reversed(changes(episode.pk, document))}
    rows, whys = told(limits(episode, actor, treads, at=at))
    return Sheet(
        episode=episode,
        features=feature_words(episode.knee),
        protocol=protocol_words(document),
        knees=knees_of(standing),
        check_first=first_lines(standing.board.get("check_first", ())),
        settings=list(latest.values()),
        limits=rows,
        whys=whys,
        not_theirs=[tread for tread in treads if tread.status == "not_applicable"],
    )
