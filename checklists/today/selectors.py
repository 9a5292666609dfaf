"""The day of who is signed in: page-shaped, a fixed number of statements however many people come."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from uuid import UUID

from django.utils.translation import gettext as _
from django.utils.translation import pgettext

from caseload.assignment.selectors import in_place, stand_ins
from caseload.episode.models import Episode
from caseload.visit.selectors import Planned
from caseload.words import age_on
from checklists.floor.sessions import Session
from checklists.person.first import first_lines
from checklists.person.heads import Standing, standings
from checklists.person.helping import helping, next_waits
from checklists.today.changed import changed_since_looked
from checklists.today.coming import who_comes
from checklists.today.dues import dues_of
from checklists.today.facts import sessions_of_day
from checklists.today.order import in_order
from checklists.today.plates import Plate, plates
from checklists.today.rows import Call, Due, feature_words, next_of, status_dues
from checklists.today.since import since_last_time
from checklists.words.tables import worded
from clinic import access, clock
from clinic.access import Action, Scope
from clinic.staff.factors.models import in_use
from clinic.staff.models import Staff

CAME, MISSED = "came", "missed"


@dataclass(frozen=True, slots=True)
class Today:
    """The page: the day, its people in the order of `order.in_order`, and what stands on top."""

    day: date
    at: datetime
    site: str
    calls: Sequence[Call]
    plates: Sequence[Plate]
    to_sign: int
    falls: int
    overdue: int
    lapsed: int
    whole_site: bool
    may_sign: bool
    may_review: bool
    helping: str  # what is an assistant's to record; what stands to be signed or reviewed is then not theirs
    needs_factor: bool  # somebody without people reads how to begin

    @property
    def next(self) -> Call | None:
        """Who comes next by the clock, wherever they stand on the sheet; nobody where the rest are late."""
        return next((call for call in self.calls if call.comes_next), None)

    @property
    def first_fall(self) -> Call | None:
        """The first on the sheet whose fall waits for its review."""
        return next((call for call in self.calls if call.falls), None)


def today(actor: Staff, *, at: datetime) -> Today:
    """A therapist sees their own people and those whom they cover; an assistant and a lead everybody of their site."""
    zone = actor.site.time_zone
    day = clock.local_day(at, zone)
    visits = who_comes(actor, at=at)
    calls = _calls(actor, visits, at, zone)
    dues = [due for call in calls for due in call.due]
    return Today(
        day=day,
        at=at,
        site=actor.site.name,
        calls=calls,
        plates=plates(actor, calls, at=at, day=day),
        to_sign=sum(1 for due in dues if due.mark == "ready"),
        falls=sum({call.episode_id: call.falls for call in calls}.values()),  # somebody may come twice
        overdue=sum(due.many for due in dues if due.mark == "overdue"),
        lapsed=sum(due.many for due in dues if due.mark == "lapsed"),
        whole_site=whole_site(actor, at),
        may_sign=access.reach(actor, Action.SIGN_OFF, at) is not None,
        may_review=access.reach(actor, Action.REVIEW_FALL, at) is not None,
        helping=helping(actor, _("the person’s therapist"), at=at),
        needs_factor=not calls and not in_use(actor).exists(),
    )


def _calls(actor: Staff, visits: Sequence[Planned], at: datetime, zone: str) -> list[Call]:
    keys = {visit.episode_id for visit in visits}
    episodes = {row.pk: row for row in Episode.objects.filter(pk__in=keys).select_related("person")}
    start = clock.day_starts(clock.local_day(at, zone), zone)
    leads = access.reach(actor, Action.SEE_CASELOAD, at) is not None  # to whom the whole clinic is new every day
    told = _Told(
        stand=(stand := standings(keys, at=at)),
        since=since_last_time(actor, keys, today=start, at=at),
        changed=changed_since_looked(actor, keys, at=at, zone=zone, greets=not leads),
        sessions=sessions_of_day(keys, start=start),
        dues=dues_of(actor, stand, at=at, zone=zone),
        stand_ins=stand_ins(actor, keys, at=at) if whole_site(actor, at) else {},
        waits={key for key, standing in stand.items() if next_waits(actor, standing, at=at)},
    )
    return in_order((_call(visit, episodes[visit.episode_id], told, at) for visit in visits), at=at)


@dataclass(frozen=True, slots=True)
class _Told:
    """What is known of everybody on the sheet, by episode."""

    stand: Mapping[UUID, Standing]
    since: Mapping[UUID, Sequence[str]]
    changed: Mapping[UUID, Sequence[str]]
    sessions: Mapping[UUID, Sequence[Session]]
    dues: Mapping[UUID, Sequence[Due]]
    stand_ins: Mapping[UUID, tuple[str, UUID | None]]
    waits: Collection[UUID]  # where what comes next is not the reader's to lead


def whole_site(actor: Staff, at: datetime) -> bool:
    """Whether people of others stand on the sheet, so that each says with whom they come."""
    return access.reach(actor, Action.RECORD, at) is not Scope.OWN


def _with(visit: Planned, stand_in: tuple[str, UUID | None] | None) -> str:
    """With whom they come. A plan that still names who is away says who stands in for them."""
    name, away = stand_in or (visit.staff, None)
    staff = visit.staff if away != visit.staff_id else in_place(name, visit.staff)
    return _("with {staff}").format(staff=staff)


def _state(sessions: Sequence[Session], planned: str) -> str:
    """now or done for whom a session was opened or closed today, the last of them; else what the plan says."""
    held = [session for session in sessions if session.since or session.until]
    if held:
        return "now" if held[-1].is_open else "done"
    return {CAME: "done", MISSED: "missed"}.get(planned, "planned")


def _state_words(state: str, minutes: int) -> str:
    """What stands under the time: the state, or of what is still to come its length."""
    said = {"now": _("in the gym"), "done": pgettext("session", "done"), "missed": _("did not come")}
    return said.get(state) or _("{n} min").format(n=minutes)


def _call(visit: Planned, episode: Episode, told: _Told, at: datetime) -> Call:
    person, key = episode.person, episode.pk
    standing = told.stand.get(key)
    steps = standing.treads(both=episode.side == "both") if standing else []
    board = standing.board if standing else {}
    state = _state(told.sessions.get(key, ()), visit.state)
    return Call(
        episode_id=key,
        starts_at=visit.starts_at,
        minutes=visit.minutes,
        state=state,
        state_words=_state_words(state, visit.minutes),
        person=person.full_name,
        number=person.number,
        second_identifier=person.second_identifier,
        age=age_on(person.born_on, at.date()),
        side=worded(episode.side, "side"),
        features=feature_words(episode.knee),
        staff=_with(visit, told.stand_ins.get(key)),
        treads=steps,
        next=next_of(board, steps, episode.side, waits=key in told.waits),
        check_first=first_lines(board.get("check_first", ())),
        since=told.since.get(key, ()),
        due=[*told.dues.get(key, ()), *status_dues(steps)],
        changed=told.changed.get(key, ()),
    )
