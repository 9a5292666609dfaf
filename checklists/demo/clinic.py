"""The invented clinic from its first day on: made once, and brought up to today at every start."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date, time, timedelta

from django.db import connection, transaction

from caseload.models import Episode, Visit
from checklists.alerts.models import Alert
from checklists.demo import acts
from checklists.demo.cast import JONAS, RUNA, STAFF
from checklists.demo.days import Days
from checklists.demo.desk import ZONE, Desk
from checklists.demo.evening import evening
from checklists.demo.half import OtherHalf
from checklists.demo.hiring import JOINED_BEFORE, hire, were_here
from checklists.demo.roster import Resident, residents
from checklists.demo.situations import SITUATIONS
from checklists.demo.telephones import lay_aside
from checklists.record import protocols
from clinic import clock
from clinic.audit import trail
from clinic.audit.models import TrailRow
from clinic.errors import Refusal
from clinic.staff.models import Staff

LIVED = "demo.day_lived"
FIRST_HALF = (RUNA, JONAS)  # whose people the first process sees
Step = Callable[[str, int], None]


def bring_up_to_date(*, step: Step, look_back: int = 365, two: bool = False) -> str:
    """Make the clinic where there is none, live up to yesterday, and let the people of the tour come today.

    `two`: with a second process for half of the people.
    """
    today = clock.local_day(clock.now(), ZONE)
    first = not Staff.objects.exists()
    day_zero = today if first else _day_zero()
    if first:
        hire(day_zero)
    lay_aside()
    complete = _last_lived() >= -1  # otherwise the year itself was cut off, and goes on where it stood
    span = range(max(_last_lived() + 1, -look_back - 50), (today - day_zero).days)
    other = OtherHalf(day_zero, span, forgiving=complete) if two and len(span) > 1 else None
    try:
        live_through(
            day_zero,
            span,
            half=0 if other else None,
            forgiving=complete,
            meet=other.meet if other else lambda: None,
            step=step,
        )
    except BaseException:
        if other:
            other.give_up()
        raise
    if other:
        other.end()
    desk, people = _open(day_zero)
    come_today(desk, people, (today - day_zero).days)
    were_here(today - timedelta(days=1))
    return f"{len(desk.episodes)} people, {len(span)} days"


def live_through(
    day_zero: date,
    span: range,
    *,
    half: int | None,
    forgiving: bool,
    meet: Callable[[], object],
    step: Step | None = None,
) -> None:
    """Live through days with everybody, or with one half of the people; the half with `step` does what is done once."""
    with connection.cursor() as cursor:
        cursor.execute("SET synchronous_commit TO off")  # what a power cut takes away is lived through again
    desk, people = _open(day_zero, telephone=half or 0)
    mine = [who for who in people if half is None or (who.therapist in FIRST_HALF) == (half == 0)]
    days = Days(desk, mine, forgiving=forgiving)
    for number in span:
        days.live(number)
        meet()
        if step:
            evening(desk.instant(number, time(20)))
            _note_lived(number)
            step(f"{desk.day(number):%d %b %Y}", len(span))
        meet()


def _open(day_zero: date, *, telephone: int = 0) -> tuple[Desk, list[Resident]]:
    """The desk, with everybody where the record says that they stand."""
    desk = Desk(protocols.loaded(protocols.current(clock.now()).pk), day_zero, telephone)
    people = residents()
    _remember(desk, people)
    return desk, people


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


def _remember(desk: Desk, people: list[Resident]) -> None:
    """Where each resident stands: the record says it, not a file of ours."""
    made = {(row.episode_id, row.rule) for row in Alert.objects.all()}
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
