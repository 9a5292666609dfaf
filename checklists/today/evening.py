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
from caseload.review.selectors import Due, overdue_reviews
from caseload.visit.selectors import Planned
from caseload.words import instant_words
from checklists.alerts.page import do_now
from checklists.alerts.selectors import Act, Filters, acts, grave
from checklists.alerts.short import SHORT
from checklists.alerts.ways import card_of
from checklists.person.heads import Standing, standings
from checklists.record.models import Entry
from checklists.today.coming import who_comes, who_was_to_come
from checklists.today.dues import falls_waiting, review_words
from checklists.today.facts import sessions_of_day
from checklists.today.open_ends import OpenEnd, of_knees, of_sessions
from checklists.today.plates import Plate, marks_of_others
from checklists.today.rows import status_dues
from checklists.words import said
from clinic import access, clock
from clinic.access import Action, Scope
from clinic.language import dates
from clinic.staff.models import Staff
from clinic.web.entrance import with_next

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
    """A heading of the list with its lines. `settled`: what is said where there are none; nothing where the part itself
    is then left out."""

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
    comes = who_comes(actor, at=at, sites=True)
    people, whole = _people(actor, comes, day, at), access.reach(actor, Action.RECORD, at) is Scope.ALL
    sites = [name for _, name in every_site()] if whole else [actor.site.name]
    sites = sorted({*sites, *(row.site.name for row in people.values())})
    visits = list(_visits(comes, who_was_to_come(actor, at=at), day))
    parts = [part for part in _parts(actor, people, visits, at) if part.lines or part.settled]
    device: dict[str, object] = {
        "staff": {"reference": actor.reference, "name": actor.name},
        "signIn": reverse("sign_in"),
    }
    manages = access.reach(actor, Action.MANAGE_TABLETS, at) is not None
    return Evening(day, at, len(people), sites, parts, device, manages, marks_of_others(actor, at=at))


def _parts(actor: Staff, people: dict[UUID, Episode], visits: Sequence[Line], at: datetime) -> list[Part]:
    stand = standings(people, at=at)
    unsigned, unproven = list(_unsigned(actor, people, stand, at)), _unproven(people, stand, at)
    falls, unanswered = list(_falls(actor, people, stand, at)), _unanswered(actor, people, at)
    return [
        Part("unsigned", _("Not signed"), _("Nothing waits for a signature."), unsigned),
        Part("unproven", _("Not proven"), _("Every knee and every session is as it should be."), unproven),
        Part("visits", _("Did they come?"), "", visits),
        Part("falls", _("Falls to review"), _("No fall waits for a review."), falls),
        Part("reviews", _("Reviews overdue"), "", _reviews(actor, at)),
        Part("unanswered", _("Not answered"), _("No alert waits for an answer."), unanswered),
    ]


def _people(actor: Staff, comes: Sequence[Planned], day: date, at: datetime) -> dict[UUID, Episode]:
    """Those who were planned for today, and those for whom the actor recorded something today; by name."""
    start = clock.day_starts(day, actor.site.time_zone)
    recorded = Entry.objects.filter(by=actor, at__gte=start, at__lt=start + timedelta(days=1)).values("episode")
    planned = {visit.episode_id for visit in comes}
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
        lines += [_line(episode, end.mark, end.text, _settled_at(episode, end)) for end in ends]
    return lines


def _settled_at(episode: Episode, end: OpenEnd) -> str:
    """The Floor; of a check that is entered late its row of the sheet."""
    if end.missing:
        return f"{reverse('paper_enter', args=[episode.pk])}#{end.missing}-check"
    return reverse("floor", args=[episode.pk])


def _visits(comes: Sequence[Planned], earlier: Sequence[Planned], day: date) -> Iterator[Line]:
    """Sessions that nobody began, of which nobody said what became, the oldest first: to the plan, where it is said."""
    text = _("Planned for {time}, with {staff}, and not begun: say whether they came.")
    for visit in [*earlier, *(visit for visit in comes if visit.asks)]:
        local = visit.starts_at.astimezone(ZoneInfo(visit.zone))
        began = dates.clock(local) if local.date() == day else instant_words(visit.starts_at, visit.zone)
        place = reverse("plan", args=[visit.episode_id]) + "#plan-visits"
        told = text.format(time=began, staff=visit.staff)
        yield Line("overdue", visit.person, visit.number, visit.site, told, place)


def _reviews(actor: Staff, at: datetime) -> list[Line]:
    """Planned reviews whose day has passed, of everybody for whom the actor plans them: to the recording, or to the
    plan where recording one is not theirs."""
    if access.reach(actor, Action.PLAN_REVIEW, at) is None:
        return []
    records = access.reach(actor, Action.REVIEW_FALL, at) is not None
    return [_overdue(row, records) for row in overdue_reviews(actor, at=at, may=Action.PLAN_REVIEW)]


def _overdue(row: Due, records: bool) -> Line:
    place = _back_here("record_review", row.episode_id) if records else reverse("plan", args=[row.episode_id])
    return Line("overdue", row.person, row.number, row.site, review_words(row), place)


def _back_here(name: str, episode_id: UUID) -> str:
    """The address of a form that leads back to this page."""
    return with_next(reverse(name, args=[episode_id]), reverse("day_end"))


def _falls(actor: Staff, people: dict[UUID, Episode], stand: dict[UUID, Standing], at: datetime) -> Iterator[Line]:
    """Falls that nobody reviewed: to the review where it is the actor's to make, else to the person."""
    records = access.reach(actor, Action.REVIEW_FALL, at) is not None
    for episode in _of(people, stand):
        for text in falls_waiting(stand[episode.pk]):
            place = _back_here("record_review", episode.pk) if records else reverse("person", args=[episode.pk])
            yield _line(episode, "critical", text, place)


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
    place = reverse("answer_alert", args=[act.episode_id, act.entry]) if answers else card_of(act.entry)
    first, more = act.rules[0], len(act.rules) - 1
    what = SHORT[first.rule] if first.rule in SHORT else said(first.sentence).rstrip(".")
    text = _("{what}: {do_now}").format(what=what[:1].upper() + what[1:], do_now=do_now(actor, act, first))
    text = _("{sentence} (and {n} more)").format(sentence=text, n=more) if more else text
    return Line(act.severity, act.person, act.number, act.site, text, place)


def _line(episode: Episode, mark: str, text: str, link: str) -> Line:
    return Line(mark, episode.person.full_name, episode.person.number, episode.site.name, text, link)


def _of(people: dict[UUID, Episode], stand: dict[UUID, Standing]) -> Iterable[Episode]:
    return (row for key, row in people.items() if key in stand)
