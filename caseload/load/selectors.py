"""Who carries what, who is authorised for which knee feature, and what one more person would mean."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from uuid import UUID

from django.utils.translation import gettext as _
from django.utils.translation import ngettext, pgettext_lazy

from caseload.assignment.models import Cover
from caseload.load.away import Leave, leaves
from caseload.load.carried import COVER_AHEAD, Carried, carried, carriers, covers_to_come, total, weights
from caseload.load.models import Phase
from caseload.load.peak import Stand, peak
from caseload.load.phase import Minutes
from caseload.words import may_have, over_words, span_words
from clinic import access
from clinic.access import Action
from clinic.language.text import Text
from clinic.staff.models import Authorisation, Registration, Staff
from clinic.staff.roles import KneeFeature

SHORT: dict[KneeFeature, Text] = {
    KneeFeature.LOCK: pgettext_lazy("knee feature", "lock"),
    KneeFeature.FREE_SWING: pgettext_lazy("knee feature", "free swing"),
    KneeFeature.YIELDING: pgettext_lazy("knee feature", "yielding"),
}
SOON = timedelta(days=28)  # an authorisation that ends within four weeks is shown with its end


@dataclass(frozen=True, slots=True)
class HeldFeature:
    """A knee feature that somebody is authorised for; `until` where that ends soon."""

    feature: str
    words: str
    expires_on: date
    ends_soon: bool


@dataclass(frozen=True, slots=True)
class Load:
    """One therapist: minutes a week carried and covered, against the minutes they have.

    `covered` and `covers_people` are today's. `most_cover`: the most minutes that they cover at one time from now to
    four weeks ahead; `most_from`: the day on which that begins, where it is not today.
    """

    staff_id: UUID
    name: str
    site_id: UUID
    site: str
    minutes: int
    covered: int
    capacity: int
    people: int
    covers_people: int
    registered: bool
    held: tuple[HeldFeature, ...]
    notes: tuple[str, ...]
    away: tuple[Leave, ...] = ()  # in force or to come
    most_cover: int = 0
    most_from: date | None = None
    checked: bool = True  # who they are: without it they sign nothing

    @property
    def with_cover(self) -> int:
        """Minutes carried, and covered at the most: what is compared with the minutes that they have."""
        return self.minutes + self.most_cover

    @property
    def over(self) -> int:
        """Minutes beyond what they have."""
        return max(0, self.with_cover - self.capacity)

    @property
    def over_words(self) -> str:
        """'2.5 h over'."""
        return over_words(self.with_cover, self.capacity)

    @property
    def features(self) -> frozenset[str]:
        """What they are authorised for today."""
        return frozenset(held.feature for held in self.held)

    def away_at(self, at: datetime) -> Leave | None:
        """Their leave, where they are away at an instant."""
        return next((leave for leave in self.away if leave.holds(at)), None)

    def lacks(self, knee: Sequence[str] | None) -> list[str]:
        """What they would need and have not, to teach this knee."""
        return lacking(knee, self.features, registered=self.registered)


def lacking(knee: Sequence[str] | None, features: Collection[str], *, registered: bool) -> list[str]:
    """What whoever holds these authorisations would need and has not: a current registration, and what this knee has
    or, unknown, may have."""
    needed = may_have(knee)
    return ([] if registered else [_("registration")]) + [
        str(SHORT[feature]) for feature in KneeFeature if feature in needed and feature not in features
    ]


def lacking_of(covers: Iterable[Cover], *, at: datetime) -> dict[UUID, list[str]]:
    """Cover → what whoever stands in lacks today to teach that knee, where they lack anything. Two statements."""
    rows = list(covers)
    staff_ids = list({row.staff_id for row in rows})
    return _lacking(rows, _held(staff_ids, at.date()), _registered(staff_ids, at.date()))


def _lacking(
    covers: Iterable[Cover], held: Mapping[UUID, Sequence[HeldFeature]], registered: Collection[UUID]
) -> dict[UUID, list[str]]:
    """The same, out of what is read already; whoever is not among them holds nothing."""
    found = {}
    for row in covers:
        features = {one.feature for one in held.get(row.staff_id, ())}
        found[row.pk] = wanting(row.episode.knee, features, registered=row.staff_id in registered)
    return {key: lacks for key, lacks in found.items() if lacks}


def wanting(knee: Sequence[str] | None, features: Collection[str], *, registered: bool) -> list[str]:
    """The same as it is said of one among many: of an unknown knee only that it is unknown."""
    lacks = lacking(knee, features, registered=registered)
    return [_("knee not known")] if lacks and knee is None else lacks


def loads(actor: Staff, *, at: datetime, apart: Collection[UUID] = ()) -> list[Load]:
    """Every therapist with what they carry today and cover now or soon, for whoever shares out the caseload.

    `apart`: episodes whose covers are not counted, since whoever asks counts these people themselves.
    """
    access.permit(actor, Action.SEE_CASELOAD, at)
    staff = list(carriers(at))
    mine, theirs = defaultdict(list), {}
    for row in carried(at, zone=actor.site.time_zone):
        mine[row.staff_id].append(row)
        theirs[row.episode_id] = row
    names = {person.pk: person.name for person in staff}
    every, owners = covers_to_come(at), {key: row.staff_id for key, row in theirs.items()}
    away = leaves(every, owners)
    covers = [cover for cover in every if cover.period.lower < at + COVER_AHEAD]
    stands = _stands([cover for cover in covers if cover.episode_id not in apart], theirs)
    now = {key: [one for one in some if one.holds(at)] for key, some in stands.items()}
    peaks = {person.pk: peak(stands.get(person.pk, ()), at=at) for person in staff}
    held, registered = _held(list(names), at.date()), _registered(list(names), at.date())
    notes = _notes(covers, owners, names, _lacking(covers, held, registered))
    return [
        Load(
            staff_id=person.pk,
            name=person.name,
            site_id=person.site_id,
            site=person.site.name,
            minutes=total(mine[person.pk]),
            covered=total(now.get(person.pk, ())),
            capacity=person.minutes_per_week,
            people=len(mine[person.pk]),
            covers_people=len(now.get(person.pk, ())),
            registered=person.pk in registered,
            held=tuple(held[person.pk]),
            notes=tuple(notes[person.pk]),
            away=away.get(person.pk, ()),
            most_cover=peaks[person.pk].minutes,
            most_from=peaks[person.pk].since,
            checked=person.identity_checked_at is not None,
        )
        for person in staff
    ]


def _stands(covers: Sequence[Cover], theirs: Mapping[UUID, Carried]) -> dict[UUID, list[Stand]]:
    """For whom each stands in, and when: only for people whom the colleague who is away still carries."""
    found: dict[UUID, list[Stand]] = defaultdict(list)
    for cover in covers:
        row = theirs.get(cover.episode_id)
        if row is not None and row.staff_id != cover.staff_id:
            start, end = cover.period.lower, cover.period.upper
            found[cover.staff_id].append(Stand(start, end, cover.episode.site.time_zone, row.minutes))
    return found


def load_weights(actor: Staff, *, at: datetime) -> dict[str, Minutes]:
    """Phase → minutes a week, in the order of the phases."""
    access.permit(actor, Action.SEE_CASELOAD, at)
    found = weights()
    return {phase: found[phase] for phase in Phase.values}


def _registered(staff_ids: Sequence[UUID], day: date) -> set[UUID]:
    """Who has a registration in force on a day."""
    rows = Registration.objects.filter(staff_id__in=staff_ids, starts_on__lte=day, expires_on__gte=day)
    return set(rows.values_list("staff_id", flat=True))


def _held(staff_ids: Sequence[UUID], day: date) -> dict[UUID, list[HeldFeature]]:
    """Authorisations in force on a day; of several for one feature the one that lasts longest."""
    rows = Authorisation.objects.filter(
        staff_id__in=staff_ids, starts_on__lte=day, expires_on__gte=day, withdrawn_at__isnull=True
    ).order_by("expires_on")
    longest = {(row.staff_id, row.feature): row for row in rows}
    found: dict[UUID, list[HeldFeature]] = defaultdict(list)
    for feature in KneeFeature:
        for staff_id in staff_ids:
            row = longest.get((staff_id, feature))
            if row is not None:
                found[staff_id].append(
                    HeldFeature(feature, str(SHORT[feature]), row.expires_on, row.expires_on - day <= SOON)
                )
    return found


def _notes(
    covers: Sequence[Cover], owners: dict[UUID, UUID], names: dict[UUID, str], lacks: Mapping[UUID, Sequence[str]]
) -> dict[UUID, list[str]]:
    """Who stands in for whom, now or within four weeks: a sentence a pair of colleagues and period, for both."""
    found: dict[UUID, list[str]] = defaultdict(list)
    pairs: dict[tuple[UUID, UUID, str], list[UUID]] = defaultdict(list)
    for cover in covers:
        owner = owners.get(cover.episode_id)
        if owner is not None:
            days = span_words(cover.period.lower, cover.period.upper, cover.episode.site.time_zone)
            pairs[owner, cover.staff_id, days].append(cover.pk)
    for (owner, cover_id, days), covered in pairs.items():
        who = ngettext("{n} person", "{n} people", len(covered)).format(n=len(covered))
        unable = len(lacks.keys() & set(covered))
        who += _("; may not teach {n} of them").format(n=unable) if unable else ""
        names_of = {"who": who, "days": days}
        by, whom = names.get(cover_id, _("a colleague")), names.get(owner, _("a colleague"))
        found[owner].append(_("covered by {name} ({who}), {days}").format(name=by, **names_of))
        found[cover_id].append(_("covers {name} ({who}), {days}").format(name=whom, **names_of))
    return found
