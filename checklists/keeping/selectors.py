"""What the records officer and the leads see of keeping and giving out."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from uuid import UUID

from django.db.models import Exists, OuterRef, Q, QuerySet
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from caseload.models import Episode, Person
from checklists.keeping.corrections import Correction, corrections_of
from checklists.keeping.models import Archive, Erasure, LegalHold, Retention
from checklists.keeping.retention import Kept
from checklists.keeping.steps import erased_words, kept_of, person_to
from checklists.record.models import Entry
from clinic import access, clock
from clinic.access import Action
from clinic.staff.models import Site, Staff

MOST = 200


@dataclass(frozen=True, slots=True)
class SiteKeeps:
    """How long a site keeps records, as it was set last."""

    site_id: UUID
    name: str
    setting: Retention | None

    @property
    def words(self) -> str:
        """'10 years after the end', 'for ever'."""
        if self.setting is None or self.setting.years is None:
            return _("for ever")
        years = self.setting.years
        return ngettext("{n} year after the end", "{n} years after the end", years).format(n=years)


@dataclass(frozen=True, slots=True)
class Past:
    """Somebody whose record is past its retention."""

    person_id: UUID
    number: str
    name: str
    until: date


@dataclass(frozen=True, slots=True)
class Waiting:
    """A request for correction that waits, with whose record it is about."""

    correction: Correction
    number: str
    name: str
    person_id: UUID
    reference: str
    late: bool


@dataclass(frozen=True, slots=True)
class KeepingPage:
    """Everything on the page. `may`: the actions that the reader has."""

    sites: Sequence[SiteKeeps]
    past: Sequence[Past]
    holds: Sequence[LegalHold]
    erasures: Sequence[Erasure]
    corrections: Sequence[Waiting]
    found: Sequence[Person]
    may: frozenset[str]


@dataclass(frozen=True, slots=True)
class PersonKept:
    """One person: how long the record is kept, what holds it, what was taken out, asked for and erased."""

    person: Person
    episodes: Sequence[Episode]
    kept: Kept
    past: bool
    erased: str
    holds: Sequence[LegalHold]
    archives: Sequence[Archive]
    erasures: Sequence[Erasure]
    corrections: Sequence[tuple[Episode, Correction]]
    may: frozenset[str]


OFFERED = (
    *(Action.SET_RETENTION, Action.HOLD_RECORD, Action.EXPORT_RECORD, Action.ASK_ERASURE, Action.CONFIRM_ERASURE),
    *(Action.ASK_CORRECTION, Action.ANSWER_CORRECTION, Action.SEE_PERSON),
)


def keeping_page(actor: Staff, text: str, *, at: datetime) -> KeepingPage:
    """The page: a fixed number of statements, however many people there are."""
    access.permit(actor, Action.SEE_KEEPING, at)
    holds = LegalHold.objects.filter(lifted_at__isnull=True).select_related("person", "placed_by")
    waiting = Erasure.objects.filter(decision__isnull=True).select_related("person", "asked_by")
    return KeepingPage(
        sites=sites(),
        past=past_retention(actor, at=at)[:MOST],
        holds=list(holds.order_by("placed_at")[:MOST]),
        erasures=list(waiting.order_by("asked_at")[:MOST]),
        corrections=open_corrections(at=at),
        found=people_named(text),
        may=_may(actor, at),
    )


def _may(actor: Staff, at: datetime) -> frozenset[str]:
    return frozenset(str(action) for action in OFFERED if access.reach(actor, action, at) is not None)


def sites() -> list[SiteKeeps]:
    """Every site with its setting."""
    newest = {row.site_id: row for row in Retention.objects.select_related("set_by").order_by("pk")}
    return [SiteKeeps(site.pk, site.name, newest.get(site.pk)) for site in Site.objects.order_by("name")]


def past_retention(actor: Staff, *, at: datetime) -> list[Past]:
    """Whose record is past its retention, the longest first. Nobody under hold, in care, or kept for ever."""
    access.permit(actor, Action.SEE_KEEPING, at)
    held = LegalHold.objects.filter(person=OuterRef("pk"), lifted_at__isnull=True)
    in_care = Episode.objects.filter(person=OuterRef("pk"), closed_at__isnull=True)
    rows = Person.objects.filter(~Exists(held), ~Exists(in_care), erased_at__isnull=True)
    ends = {person: kept for person, kept in kept_of(rows).items() if kept.until is not None}
    people = rows.filter(pk__in=ends).select_related("site")
    found = [
        Past(person.pk, person.number, person.full_name, until)
        for person in people
        if (until := ends[person.pk].until) and ends[person.pk].past(clock.local_day(at, person.site.time_zone))
    ]
    return sorted(found, key=lambda row: (row.until, row.number))


def people_named(text: str, most: int = 20) -> list[Person]:
    """Persons whose number, second identifier or name begins with each word of a text, erased ones by their number."""
    words = text.replace("\0", " ").split()
    rows: QuerySet[Person] = Person.objects.select_related("site")
    for word in words:
        names = Q(given_name__istartswith=word) | Q(family_name__istartswith=word) | Q(called__istartswith=word)
        alive = (names | Q(second_identifier__istartswith=word)) & Q(erased_at__isnull=True)
        rows = rows.filter(alive | Q(number__istartswith=word))
    return list(rows.order_by("family_name", "number")[:most]) if words else []


def open_corrections(*, at: datetime) -> list[Waiting]:
    """Every request that waits for an answer, the soonest due first."""
    asked = Entry.objects.filter(kind="correction_requested").values("episode")
    episodes = {row.pk: row for row in Episode.objects.filter(pk__in=asked).select_related("person", "site")}
    waiting = [
        _waiting(one, episodes[episode], at)
        for episode, found in corrections_of(episodes).items()
        for one in found
        if one.open
    ]
    return sorted(waiting, key=lambda row: (row.correction.due_on, row.reference))


def _waiting(one: Correction, episode: Episode, at: datetime) -> Waiting:
    person = episode.person
    late = one.late(clock.local_day(at, episode.site.time_zone))
    return Waiting(one, person.number, person.full_name, person.pk, episode.reference, late)


def person_kept(actor: Staff, person_id: UUID, *, at: datetime) -> PersonKept:
    """One person, for whoever keeps the records; an erased one is said to be."""
    people = Person.objects.select_related("site")
    person = access.get(actor, Action.SEE_KEEPING, people, at=at, pk=person_id)
    episodes = list(Episode.objects.filter(person=person).select_related("site").order_by("created_at"))
    kept = kept_of(Person.objects.filter(pk=person.pk)).get(person.pk, Kept(None))
    asked = corrections_of([episode.pk for episode in episodes])
    return PersonKept(
        person=person,
        episodes=episodes,
        kept=kept,
        past=kept.past(clock.local_day(at, person.site.time_zone)),
        erased=erased_words(person),
        holds=list(person.legal_holds.select_related("placed_by", "lifted_by").order_by("-placed_at")),
        archives=list(person.archives.select_related("asked_by").order_by("-asked_at")[:20]),
        erasures=list(_erasures(person)),
        corrections=[(episode, one) for episode in episodes for one in asked.get(episode.pk, ())],
        may=_may(actor, at),
    )


def _erasures(person: Person) -> Iterable[Erasure]:
    return person.erasures.select_related("asked_by", "decision__decided_by", "erased").order_by("-asked_at")


def one_archive(actor: Staff, archive_id: UUID, *, at: datetime) -> Archive:
    """An archive that is being made, for whoever gives records out."""
    access.permit(actor, Action.EXPORT_RECORD, at)
    rows = Archive.objects.select_related("person", "asked_by", "person__site")
    return access.get(actor, Action.EXPORT_RECORD, rows, at=at, pk=archive_id)


def one_erasure(actor: Staff, erasure_id: UUID, *, at: datetime) -> Erasure:
    """A request for erasure, for the lead who decides."""
    access.permit(actor, Action.CONFIRM_ERASURE, at)
    rows = Erasure.objects.select_related("person", "asked_by", "person__site")
    return access.get(actor, Action.CONFIRM_ERASURE, rows, at=at, pk=erasure_id)


def one_hold(actor: Staff, hold_id: UUID, *, at: datetime) -> LegalHold:
    """A hold, for whoever may lift it."""
    rows = LegalHold.objects.select_related("person", "placed_by")
    return access.get(actor, Action.HOLD_RECORD, rows, at=at, pk=hold_id)


def person_for(actor: Staff, action: Action, person_id: UUID, *, at: datetime) -> Person:
    """A person for the head of a form; Gone where the record was erased."""
    return person_to(actor, action, person_id, at=at)
