"""The invented clinic from its first day on: made once, and brought up to today at every start."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date, time, timedelta

from django.db import connection, transaction

from caseload.models import Episode, Visit
from checklists.alerts.models import Alert
from checklists.demo import acts
from checklists.demo.cast import STAFF
from checklists.demo.days import Days
from checklists.demo.desk import ZONE, Desk
from checklists.demo.hiring import JOINED_BEFORE, hire
from checklists.demo.roster import Resident, residents
from checklists.demo.situations import SITUATIONS
from checklists.record import protocols
from clinic import clock
from clinic.audit import trail
from clinic.audit.models import TrailRow
from clinic.errors import Refusal
from clinic.staff.models import Staff

LIVED = "demo.day_lived"
Step = Callable[[str, int], None]


def bring_up_to_date(*, step: Step, look_back: int = 365) -> str:
    """Make the clinic where there is none, live up to yesterday, and let the people of the tour come today."""
    today = clock.local_day(clock.now(), ZONE)
    first = not Staff.objects.exists()
    day_zero = today if first else _day_zero()
    with connection.cursor() as cursor:
        cursor.execute("SET synchronous_commit TO off")  # what a power cut takes away is lived through again
    if first:
        hire(day_zero)
    version = protocols.current(clock.now())
    desk = Desk(protocols.loaded(version.pk), day_zero)
    people = residents()
    _remember(desk, people, first=first)
    begins = max(_last_lived() + 1, -look_back - 50)
    span = range(begins, (today - day_zero).days)
    days = Days(desk, people, forgiving=not first)
    for number in span:
        days.live(number)
        _note_lived(number)
        step(f"{desk.day(number):%d %b %Y}", len(span))
    come_today(desk, people, (today - day_zero).days)
    return f"{len(desk.episodes)} people, {len(span)} days"


def come_today(desk: Desk, people: list[Resident], today: int) -> None:
    """Whoever the simulator leaves to the visitor comes today, so that the tour stays true at every start."""
    start, end = desk.instant(today, time(0)), desk.instant(today + 1, time(0))
    for who in people:
        situation = SITUATIONS.get(who.situation)
        if situation is None or not situation.comes_today or who.number not in desk.episodes:
            continue
        rows = Visit.objects.filter(episode=desk.episodes[who.number], state="planned")
        if rows.filter(starts_at__gte=start, starts_at__lt=end).exists():
            continue
        try:
            _come(desk, who, rows, today)
        except Refusal:  # a visitor closed or paused them: so be it
            continue


def _come(desk: Desk, who: Resident, rows: object, today: int) -> None:
    at = desk.instant(today, time(7))
    author = desk.carrier(desk.episodes[who.number], desk.instant(today, time(12)))
    if author is not None:
        acts.plan_on(desk, who, author, today, min(at, clock.now()))


def _remember(desk: Desk, people: list[Resident], *, first: bool) -> None:
    """Where each resident stands: the record says it, not a file of ours."""
    made = set() if first else {(row.episode_id, row.rule) for row in Alert.objects.all()}
    by_identifier = {desk.identifier(who): who.number for who in people}
    for pk, reference, identifier in Episode.objects.values_list("pk", "reference", "person__second_identifier"):
        if identifier in by_identifier:
            desk.knows(by_identifier[identifier], pk, reference)
    for number, episode_id in desk.episodes.items():
        desk.sessions[number] = Visit.objects.filter(episode=episode_id, state="came").count()
    for who in people:
        if who.mistake and (desk.episodes.get(who.number), who.mistake) not in made:
            desk.pending[who.number] = who.mistake


def _day_zero() -> date:
    """The day of the first start: the cast joined so many days before it."""
    joined = Staff.objects.get(username=STAFF[0].username).joined_at
    return clock.local_day(joined, ZONE) + timedelta(days=JOINED_BEFORE)


def _last_lived() -> int:
    row = TrailRow.objects.filter(verb=LIVED).order_by("-number").first()
    return int(row.detail["day"]) if row else -1_000


@transaction.atomic(durable=True)
def _note_lived(day: int) -> None:
    trail.record(None, LIVED, "demo", "alder reach", at=clock.now(), detail={"day": day})
