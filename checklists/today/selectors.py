"""The day of who is signed in: page-shaped, a fixed number of statements however many people come."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from uuid import UUID

from django.db.models import Count

from caseload.episode.models import Episode
from caseload.review.selectors import open_reviews
from caseload.visit.selectors import Planned, visits_of_day
from caseload.words import age_on
from checklists.alerts.models import Alert
from checklists.person.first import first_lines
from checklists.person.heads import Standing, standings
from checklists.record.models import Entry
from checklists.today.plates import Plate, plates
from checklists.today.rows import Call, Due, feature_words, next_of, status_dues
from checklists.today.since import since_last_time
from clinic import access, clock
from clinic.access import Action, Scope
from clinic.staff.models import Staff

CAME, MISSED = "came", "missed"


@dataclass(frozen=True, slots=True)
class Today:
    """The page: the day, its people in the order in which they come, and what stands on top."""

    day: date
    at: datetime
    site: str
    calls: Sequence[Call]
    plates: Sequence[Plate]
    to_sign: int
    overdue: int
    whole_site: bool
    may_sign: bool


def today(actor: Staff, *, at: datetime) -> Today:
    """A therapist sees their own people and those whom they cover; an assistant and a lead everybody of their site."""
    zone = actor.site.time_zone
    day = clock.local_day(at, zone)
    reach = access.permit(actor, Action.RECORD, at)
    whole_site = reach is not Scope.OWN
    visits = visits_of_day(actor, day, at=at, zone=zone, site_id=actor.site_id if whole_site else None)
    calls = _calls(actor, visits, at, zone)
    dues = [due for call in calls for due in call.due]
    return Today(
        day=day,
        at=at,
        site=actor.site.name,
        calls=calls,
        plates=plates(actor, calls, at=at, day=day),
        to_sign=sum(1 for due in dues if due.mark == "ready"),
        overdue=sum(1 for due in dues if due.mark in ("overdue", "lapsed")),
        whole_site=whole_site,
        may_sign=access.reach(actor, Action.SIGN_OFF, at) is not None,
    )


def _calls(actor: Staff, visits: Sequence[Planned], at: datetime, zone: str) -> list[Call]:
    keys = {visit.episode_id for visit in visits}
    episodes = {row.pk: row for row in Episode.objects.filter(pk__in=keys).select_related("person")}
    stand = standings(keys, at=at)
    start = clock.day_starts(clock.local_day(at, zone), zone)
    since, sessions, dues = since_last_time(keys, today=start), _sessions(keys, start), _dues(actor, keys, at)
    return [
        _call(visit, episodes[visit.episode_id], stand.get(visit.episode_id), since, sessions, dues, at)
        for visit in visits
    ]


def _sessions(keys: set[UUID], start: datetime) -> dict[UUID, str]:
    """now or done for whom a session was opened or closed today; the last of them counts."""
    rows = Entry.objects.filter(episode__in=keys, kind__in=("session_opened", "session_closed"), at__gte=start)
    ordered = rows.filter(at__lt=start + timedelta(days=1)).order_by("at", "number").values_list("episode", "kind")
    return {episode: "now" if kind == "session_opened" else "done" for episode, kind in ordered}


def _dues(actor: Staff, keys: set[UUID], at: datetime) -> dict[UUID, list[Due]]:
    dues: dict[UUID, list[Due]] = defaultdict(list)
    counts = Alert.objects.filter(episode__in=keys, open=True, acknowledged_at__isnull=True).values("episode")
    for row in counts.annotate(acts=Count("entry", distinct=True)):
        dues[row["episode"]].append(Due("critical", _alert_words(row["acts"]), link="alerts"))
    for review in open_reviews(actor, at=at):
        if review.episode_id in keys and review.state in ("overdue", "due"):
            mark = "overdue" if review.state == "overdue" else "waiting"
            dues[review.episode_id].append(Due(mark, f"{review.kind.capitalize()}: {review.words}", link="plan"))
    return dues


def _alert_words(acts: int) -> str:
    return "1 alert to answer" if acts == 1 else f"{acts} alerts to answer"


def _call(
    visit: Planned,
    episode: Episode,
    standing: Standing | None,
    since: Mapping[UUID, Sequence[str]],
    sessions: Mapping[UUID, str],
    dues: Mapping[UUID, Sequence[Due]],
    at: datetime,
) -> Call:
    person, key = episode.person, episode.pk
    steps = standing.treads(both=episode.side == "both") if standing else []
    board = standing.board if standing else {}
    state = sessions.get(key) or {CAME: "done", MISSED: "missed"}.get(visit.state, "planned")
    return Call(
        episode_id=key,
        starts_at=visit.starts_at,
        minutes=visit.minutes,
        state=state,
        state_words={"now": "in the gym", "done": "done", "missed": "did not come"}.get(state, f"{visit.minutes} min"),
        person=person.full_name,
        number=person.number,
        second_identifier=person.second_identifier,
        age=age_on(person.born_on, at.date()),
        side=episode.side,
        features=feature_words(episode.features),
        staff=visit.staff,
        treads=steps,
        next=next_of(board, steps, episode.side),
        check_first=first_lines(board),
        since=since.get(key, ()),
        due=[*dues.get(key, ()), *status_dues(steps)],
    )
