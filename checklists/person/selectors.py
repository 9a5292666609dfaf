"""One person on one page, and the people whom somebody may see."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime
from uuid import UUID

from django.db.models import OuterRef, Q, Subquery
from django.utils.translation import gettext as _

from caseload.assignment.models import Assignment
from caseload.assignment.selectors import Hands, hands
from caseload.episode.models import Episode
from caseload.episode.selectors import Plan, plan
from caseload.person.erased import unless_erased
from caseload.prosthesis.selectors import devices
from caseload.request.selectors import Asked, requests_of_episode
from caseload.review.selectors import Due, reviews_of_episode
from caseload.words import age_on
from checklists.alerts.ways import waiting_for
from checklists.person.exchanged import Apart, Unrecorded, apart, unrecorded
from checklists.person.first import first_lines
from checklists.person.heads import Standing, standings
from checklists.person.helping import closed, helping, next_waits, whose
from checklists.person.settings import Change, Fell, changes, falls
from checklists.person.stairs import Stairs, stairs_today
from checklists.person.timeline import Line, by_day, timeline, with_again
from checklists.pictures import Tread
from checklists.today.dues import alert_words
from checklists.today.rows import Next, feature_words, next_of
from checklists.words.tables import protocol_words
from clinic import access
from clinic.access import Action
from clinic.errors import NotFound
from clinic.staff.models import Staff
from clinic.web.pages import Page

MOST = 200


@dataclass(frozen=True, slots=True)
class Knee:
    """A knee as the record knows it. `side` is empty where there is only one."""

    side: str
    mode: str
    proof: str
    at: datetime | None
    by: str


@dataclass(frozen=True, slots=True)
class PersonPage:
    """Everything that the page shows; `may` names the actions that the reader has."""

    plan: Plan
    age: int
    hands: Hands
    worn: Sequence[str]
    features: str
    protocol: str
    support: Sequence[str]
    treads: Sequence[Tread]
    knees: Sequence[Knee]
    next: Next | None
    check_first: Sequence[str]
    stairs: Stairs | None
    days: Sequence[tuple[date, list[Line]]]
    page: Page[Line]
    changes: Sequence[Change]
    unrecorded: Sequence[Unrecorded]
    apart: Sequence[Apart]
    alerts: str  # how many wait for an answer, among those that the reader sees; nothing where none does
    alerts_way: str  # to the gravest of them
    falls: Sequence[Fell]
    reviews: Sequence[Due]
    requests: Sequence[Asked]
    may: frozenset[str]
    helping: str  # what is an assistant's to record, and for whom the rest waits

    @property
    def may_change(self) -> bool:
        """Whether the reader records changes of the knee."""
        return str(Action.RECORD_SETTING) in self.may

    @property
    def ready(self) -> list[Tread]:
        """What may be signed."""
        return [tread for tread in self.treads if tread.status == "ready"]

    @property
    def nothing_to_do(self) -> bool:
        """Neither an alert to answer, a fall to review, nor a signature, a review, or an open request."""
        falls = any(fall.waits for fall in self.falls)
        asked = any(request.state in ("asked", "seen") for request in self.requests)
        return not (self.alerts or falls or self.ready or self.reviews or asked)


# What outlives an episode: to read it on paper, and to have it put right.
OFFERED_CLOSED = (Action.PRINT_PERSON, Action.STRIKE_ANY, Action.ASK_CORRECTION, Action.ANSWER_CORRECTION)
OFFERED = (
    Action.RECORD,
    Action.RECORD_KNEE,
    Action.RECORD_SETTING,
    Action.KEEP_DEVICES,
    Action.REVIEW_FALL,
    Action.STRIKE_ANY,
    Action.SIGN_OFF,
    Action.ASSIGN,
    Action.PRINT_PERSON,
    Action.ASK_ADJUSTMENT,
    Action.PLAN_REVIEW,
    Action.ASK_CORRECTION,
    Action.ANSWER_CORRECTION,
)


def person_page(actor: Staff, episode_id: UUID, *, at: datetime, before: str = "") -> PersonPage:
    """One person, in the same number of statements at any length. NotFound where they are not the actor's to see."""
    head = plan(actor, episode_id, at=at)
    standing, theirs, local = standing_of(episode_id, at=at), hands(actor, episode_id, at=at), head.local(at)
    treads, ended = standing.treads(both=head.side == "both"), head.closed_at is not None
    shown = timeline(episode_id, before=before, uncounted=standing.board.get("uncounted", ()))
    shown = with_again(actor, episode_id, shown, head.zone, closed=ended, at=at)
    document = standing.protocol.document
    parts, made = devices(actor, episode_id, at=at), changes(episode_id, document)
    waits = waiting_for(actor, episode_id, at=at)
    seen = access.reach(actor, Action.SEE_REQUESTS, at) is not None
    offered = OFFERED_CLOSED if ended else OFFERED
    may = frozenset(str(action) for action in offered if access.reach(actor, action, at) is not None)
    return PersonPage(
        plan=head,
        age=age_on(head.born_on, local.date()),
        hands=theirs,
        worn=[device.knee.words for device in parts if device.knee],
        features=feature_words(head.knee),
        protocol=protocol_words(document),
        support=document["support"],
        treads=treads,
        knees=knees_of(standing),
        next=None if ended else next_of(standing.board, treads, head.side, waits=next_waits(actor, standing, at=at)),
        check_first=() if ended else first_lines(standing.board.get("check_first", ())),
        stairs=None
        if ended
        else stairs_today(standing, treads, head.side, local=local, closed=closed(actor, standing, at=at)),
        days=by_day(shown.rows, head.zone),
        page=shown,
        changes=made,
        unrecorded=() if ended else unrecorded(parts, made, head.zone),
        apart=() if ended else apart(parts, made, head.zone),
        alerts=alert_words(actor, waits.many, at=at) if waits else "",
        alerts_way=waits.way if waits else "",
        falls=falls(episode_id),
        reviews=[row for row in reviews_of_episode(actor, episode_id, at=at) if row.state not in ("done", "cancelled")],
        requests=requests_of_episode(actor, episode_id, at=at) if seen else (),
        may=may,
        helping=helping(actor, whose(theirs), at=at) if str(Action.RECORD) in may else "",
    )


def standing_of(episode_id: UUID, *, at: datetime) -> Standing:
    """Where one episode stands. NotFound where nothing was ever recorded of it."""
    found = standings([episode_id], at=at).get(episode_id)
    if found is None:
        for episode in Episode.objects.filter(pk=episode_id).select_related("person__site"):
            unless_erased(episode.person)
        raise NotFound(_("This person's record has not begun yet."))
    return found


def knees_of(standing: Standing) -> list[Knee]:
    """The knee, or the left and the right one."""
    return [
        Knee(
            side=one["knee"] or "",
            mode=one["mode"] or "unknown",
            proof=one["proof"] or "set",
            at=datetime.fromisoformat(one["at"]) if one["at"] else None,
            by=standing.names.get(one["by"], one["by"] or ""),
        )
        for one in standing.board.get("knees", ())
    ]


def door_of(actor: Staff, *, at: datetime, closed: bool = False) -> str:
    """Where the button of a row leads: the Floor for whoever teaches, the Bench for whoever sets, else the page."""
    if closed:
        return "person"
    doors = (("floor", Action.RECORD), ("bench_person", Action.RECORD_SETTING))
    return next((door for door, action in doors if access.reach(actor, action, at) is not None), "person")


@dataclass(frozen=True, slots=True)
class Listed:
    """One line of the list of people."""

    episode_id: UUID
    name: str
    number: str
    second_identifier: str
    born_on: date
    side: str
    therapist: str
    site: str
    treads: Sequence[Tread]
    next: Next | None


def people(actor: Staff, text: str, *, at: datetime, closed: bool = False) -> list[Listed]:
    """The people within the actor's scope whose name, number or second identifier, or whose therapist's name, begins
    with each word of `text`."""
    carrier = Assignment.objects.filter(episode=OuterRef("pk"), period__contains=at).values("staff__name")
    kept = Episode.objects.filter(person__erased_at__isnull=True)
    rows = kept.filter(closed_at__isnull=not closed).select_related("person", "site")
    rows = rows.annotate(therapist=Subquery(carrier[:1]))
    for word in text.split():
        rows = rows.filter(
            Q(person__number__istartswith=word)
            | Q(person__second_identifier__istartswith=word)
            | Q(person__given_name__istartswith=word)
            | Q(person__called__istartswith=word)
            | Q(person__family_name__istartswith=word)
            | Q(therapist__istartswith=word)
            | Q(therapist__icontains=f" {word}")
        )
    seen = access.scoped(actor, Action.SEE_PERSON, rows, at=at)
    found = list(seen.order_by("person__family_name", "person__given_name", "pk")[:MOST])
    stand = standings([row.pk for row in found], at=at)
    return [_listed(row, stand.get(row.pk)) for row in found]


def _listed(row: Episode, standing: Standing | None) -> Listed:
    treads = standing.treads(both=row.side == "both") if standing else []
    return Listed(
        episode_id=row.pk,
        name=row.person.full_name,
        number=row.person.number,
        second_identifier=row.person.second_identifier,
        born_on=row.person.born_on,
        side=row.side,
        therapist=row.therapist or "",  # type: ignore[attr-defined]  # annotated above
        site=row.site.name,
        treads=treads,
        next=next_of(standing.board, treads, row.side) if standing else None,
    )
