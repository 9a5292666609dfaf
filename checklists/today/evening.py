"""The end of the day: what is unsigned, unproven and unanswered among the people of the day, each line with its place.

Nothing is judged here: statuses and knees come from the board row, sessions from their facts, alerts from their list.
What is unsent the server cannot know; the page's script asks the device.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from uuid import UUID
from zoneinfo import ZoneInfo

from django.urls import reverse
from django.utils.translation import gettext as _

from caseload.episode.models import Episode
from caseload.episode.selectors import sites as every_site
from checklists.alerts.page import do_now
from checklists.alerts.selectors import Act, Filters, acts, grave
from checklists.alerts.short import SHORT
from checklists.person.heads import Standing, standings
from checklists.record.models import Entry
from checklists.today.coming import who_comes
from checklists.today.dues import falls_waiting
from checklists.today.facts import sessions_of_day
from checklists.today.open_ends import of_knees, of_sessions
from checklists.today.plates import Plate, marks_of_others
from checklists.today.rows import status_dues
from checklists.words import said
from clinic import access, clock
from clinic.access import Action, Scope
from clinic.staff.models import Staff

MOST = 200


@dataclass(frozen=True, slots=True)
class Line:
    """One thing that is open: its mark, whose it is and where they come, what it is, and where it is settled."""

    mark: str
    person: str
    number: str
    site: str
    text: str
    link: str


@dataclass(frozen=True, slots=True)
class Part:
    """A heading of the list with its lines. `settled`: what is said where there are none."""

    key: str
    title: str
    settled: str
    lines: Sequence[Line]


@dataclass(frozen=True, slots=True)
class Evening:
    """The page. `device`: for whom the script asks this device's store."""

    day: date
    at: datetime
    people: int
    sites: Sequence[str]
    parts: Sequence[Part]
    device: Mapping[str, object]
    sees_tablets: bool
    marks: Plate | None  # of colleagues, for whoever keeps the tablets

    @property
    def tomorrow(self) -> date:
        """The day whose sheets are printed tonight."""
        return self.day + timedelta(days=1)

    @property
    def is_empty(self) -> bool:
        """Nothing on the record is open."""
        return not any(part.lines for part in self.parts)


def evening(actor: Staff, *, at: datetime) -> Evening:
    """What is open among those who came to the actor today, and those for whom they recorded; for whoever leads the
    whole clinic, at every site of it. A fixed number of statements."""
    day = clock.local_day(at, actor.site.time_zone)
    people, whole = _people(actor, day, at), access.reach(actor, Action.RECORD, at) is Scope.ALL
    sites = [name for _, name in every_site()] if whole else [actor.site.name]
    sites = sorted({*sites, *(row.site.name for row in people.values())})
    parts = _parts(actor, people, standings(people, at=at), at)
    device: dict[str, object] = {
        "staff": {"reference": actor.reference, "name": actor.name},
        "signIn": reverse("sign_in"),
    }
    manages = access.reach(actor, Action.MANAGE_TABLETS, at) is not None
    return Evening(day, at, len(people), sites, parts, device, manages, marks_of_others(actor, at=at))


def _parts(actor: Staff, people: dict[UUID, Episode], stand: dict[UUID, Standing], at: datetime) -> list[Part]:
    unsigned, unproven = list(_unsigned(actor, people, stand, at)), _unproven(people, stand, at)
    falls, unanswered = list(_falls(actor, people, stand, at)), _unanswered(actor, people, at)
    return [
        Part("unsigned", _("Not signed"), _("Nothing waits for a signature."), unsigned),
        Part("unproven", _("Not proven"), _("Every knee and every session is as it should be."), unproven),
        Part("falls", _("Falls to review"), _("No fall waits for a review."), falls),
        Part("unanswered", _("Not answered"), _("No alert waits for an answer."), unanswered),
    ]


def _people(actor: Staff, day: date, at: datetime) -> dict[UUID, Episode]:
    """Those who were planned for today, and those for whom the actor recorded something today; by name."""
    start = clock.day_starts(day, actor.site.time_zone)
    recorded = Entry.objects.filter(by=actor, at__gte=start, at__lt=start + timedelta(days=1)).values("episode")
    planned = {visit.episode_id for visit in who_comes(actor, at=at, sites=True)}
    rows = Episode.objects.filter(pk__in=planned | set(recorded.values_list("episode", flat=True)))
    seen = access.scoped(actor, Action.SEE_PERSON, rows, at=at).select_related("person", "site")
    return {row.pk: row for row in seen.order_by("person__family_name", "person__given_name", "pk")}


def _unsigned(actor: Staff, people: dict[UUID, Episode], stand: dict[UUID, Standing], at: datetime) -> Iterator[Line]:
    """Skills that are ready: to the signing where the actor may sign, else to the person."""
    signs = access.reach(actor, Action.SIGN_OFF, at) is not None
    for episode in _of(people, stand):
        for due in status_dues(stand[episode.pk].treads(both=episode.side == "both")):
            if due.kind == "ready":
                place = (
                    reverse("sign_off", args=[episode.pk, due.skill]) if signs else reverse("person", args=[episode.pk])
                )
                yield _line(episode, due.mark, due.text, place)


def _unproven(people: dict[UUID, Episode], stand: dict[UUID, Standing], at: datetime) -> list[Line]:
    """Open sessions and knees not proven in walking mode, settled on the Floor; missing checks, entered late."""
    zones = {row.site.time_zone for row in people.values()}
    start = min((clock.day_starts(clock.local_day(at, zone), zone) for zone in zones), default=at)
    held = sessions_of_day(people, start=start)
    lines = []
    for episode in _of(people, stand):
        zone = ZoneInfo(episode.site.time_zone)
        ends = [*of_sessions(held.get(episode.pk, ()), zone), *of_knees(stand[episode.pk].board.get("knees", ()), zone)]
        lines += [
            _line(episode, end.mark, end.text, reverse("paper_enter" if end.is_late else "floor", args=[episode.pk]))
            for end in ends
        ]
    return lines


def _falls(actor: Staff, people: dict[UUID, Episode], stand: dict[UUID, Standing], at: datetime) -> Iterator[Line]:
    """Falls that nobody reviewed: to the review where it is the actor's to make, else to the person."""
    place = "record_review" if access.reach(actor, Action.REVIEW_FALL, at) is not None else "person"
    for episode in _of(people, stand):
        for text in falls_waiting(stand[episode.pk]):
            yield _line(episode, "critical", text, reverse(place, args=[episode.pk]))


def _unanswered(actor: Staff, people: dict[UUID, Episode], at: datetime) -> list[Line]:
    """Alerts that wait, the gravest first: all that are the actor's to answer; for whoever only sees them, those of
    today's people."""
    if access.reach(actor, Action.SEE_ALERTS, at) is None:
        return []
    answers = access.reach(actor, Action.ACKNOWLEDGE_ALERT, at) is not None
    found = sorted(acts(actor, Filters(waiting=True, most=MOST), at=at), key=lambda act: grave(act.severity))
    return [_alert(actor, act, answers) for act in found if answers or act.episode_id in people]


def _alert(actor: Staff, act: Act, answers: bool) -> Line:
    """What was skipped, in few words, and what is to be done now."""
    place = reverse("answer_alert", args=[act.episode_id, act.entry]) if answers else reverse("alerts")
    first, more = act.rules[0], len(act.rules) - 1
    what = SHORT[first.rule] if first.rule in SHORT else said(first.sentence).rstrip(".")
    text = _("{what}: {do_now}").format(what=what[:1].upper() + what[1:], do_now=do_now(actor, act, first))
    text = _("{sentence} (and {n} more)").format(sentence=text, n=more) if more else text
    return Line(act.severity, act.person, act.number, act.site, text, place)


def _line(episode: Episode, mark: str, text: str, link: str) -> Line:
    return Line(mark, episode.person.full_name, episode.person.number, episode.site.name, text, link)


def _of(people: dict[UUID, Episode], stand: dict[UUID, Standing]) -> Iterable[Episode]:
    return (row for key, row in people.items() if key in stand)
