"""Alerts as screens show them: one row an act, with its rules inside; the withdrawn ones stay visible."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from typing import Any
from uuid import UUID

import orjson
from django.db.models import Case, Count, Max, Q, QuerySet, When

from caseload.models import Episode
from checklists.alerts.models import Alert, AlertStep, Notice, Severity, StepKind
from checklists.alerts.refused import SeenTo, refused_under
from checklists.alerts.reviewed import Reviewed, reviews_of
from checklists.alerts.rules import FALL_UNREVIEWED, SIGN_OFF_RULES, words_of
from checklists.alerts.sign_offs import Over, over_since
from checklists.record import protocols
from checklists.record.models import Entry
from clinic import access
from clinic.access import Action
from clinic.staff.models import Staff

WAITING = Q(open=True, acknowledged_at__isnull=True)


def grave(severity: str) -> int:
    """0 for the gravest."""
    return Severity.values.index(severity)


@dataclass(frozen=True, slots=True)
class RuleInAct:
    """One rule that an act broke. `state`: waiting, answered or withdrawn."""

    rule: str
    severity: str
    sentence: str
    do_now: str
    state: str
    known_at: datetime
    withdrawn_at: datetime | None
    escalated_at: datetime | None
    steps: Sequence[AlertStep]


@dataclass(frozen=True, slots=True)
class Said:
    """What somebody said about an act: an answer, or why one is taken back. `gone`: an answer that was taken back."""

    step: AlertStep
    gone: bool

    @property
    def is_answer(self) -> bool:
        """Whether it is an answer, and no word of why one is taken back."""
        return self.step.kind == StepKind.ACKNOWLEDGED


@dataclass(frozen=True, slots=True)
class Act:
    """Something that somebody did, and every rule that it broke. `fact`: what was recorded, or what was refused;
    `struck`: what it struck out, where it did, and of an attempt the faults seen that bar it (`barred`); `seen_to`:
    that what was refused is seen to; `reviewed`: that a fall that was not reviewed in time is reviewed; `over`: that a
    sign-off counts no longer.

    `state` is that of the act: waiting as long as one of its rules is, answered, or withdrawn with all of them.
    """

    episode_id: UUID
    reference: str
    person: str
    number: str
    site: str
    entry: UUID
    fact: dict[str, object]
    by: str
    happened_at: datetime
    known_at: datetime
    severity: str
    state: str
    rules: Sequence[RuleInAct]
    said: Sequence[Said]  # every answer and what was taken back, in order
    escalated_at: datetime | None
    cursor: Cursor
    struck: dict[str, object]
    barred: tuple[str, ...] = ()
    seen_to: SeenTo | None = None
    reviewed: Reviewed | None = None
    over: Over | None = None

    @property
    def waiting(self) -> bool:
        """Whether somebody must answer it."""
        return self.state == "waiting"

    @property
    def unreviewed(self) -> bool:
        """Whether it is a fall that was not reviewed in time, and is not yet."""
        asks = any(rule.rule == FALL_UNREVIEWED and rule.state != "withdrawn" for rule in self.rules)
        return asks and self.reviewed is None

    @property
    def signs(self) -> bool:
        """Whether it is a sign-off that somebody is asked to look at again."""
        return any(rule.rule in SIGN_OFF_RULES and rule.state == "waiting" for rule in self.rules)

    @property
    def answer(self) -> AlertStep | None:
        """The last answer that stands."""
        return next((one.step for one in reversed(self.said) if one.is_answer and not one.gone), None)


@dataclass(frozen=True, slots=True)
class Cursor:
    """Where an act stands in the list: when the last of the rules in question became known, and which act it is."""

    known_at: datetime
    entry: UUID

    def __str__(self) -> str:
        return f"{self.known_at.isoformat()}_{self.entry}"

    @classmethod
    def read(cls, text: str) -> Cursor | None:
        """A cursor as a link carries it; nothing where it is none."""
        at, _, entry = text.rpartition("_")
        try:
            known_at = datetime.fromisoformat(at.replace(" ", "+"))
            return cls(known_at, UUID(entry)) if known_at.tzinfo else None
        except ValueError:
            return None


@dataclass(frozen=True, slots=True)
class Filters:
    """Which acts: of one episode, a single one (`entry`), only those that wait, in one state (waiting, answered,
    withdrawn), of one severity; `before` the cursor of the last act seen, for the next page (many become known with
    one call, at one instant). `first`: this act comes before all others, wherever it stands among them."""

    episode_id: UUID | None = None
    entry: UUID | None = None
    waiting: bool = False
    state: str = ""
    severity: str = ""
    escalated: bool = False
    before: Cursor | None = None
    first: UUID | None = None
    most: int = 50


def acts(actor: Staff, filters: Filters | None = None, *, at: datetime) -> list[Act]:
    """The acts that the actor may see, the last known first. No more statements, however many there are."""
    filters = filters or Filters()
    wanted = _wanted(access.scoped(actor, Action.SEE_ALERTS, Alert.objects.all(), at=at), filters)
    found = Q(pk__isnull=True)
    for one in wanted:
        found |= Q(episode_id=one["episode_id"], entry=one["entry"])
    related = ("episode__person", "episode__site", "episode__head", "acknowledged_by")
    rows = (
        Alert.objects.filter(found).select_related(*related).prefetch_related("steps__by").order_by("known_at", "rule")
    )
    grouped: dict[UUID, list[Alert]] = {one["entry"]: [] for one in wanted}
    for row in rows:
        grouped[row.entry].append(row)
    facts = _recorded(grouped)
    refused = refused_under(entry for entry in grouped if entry not in facts)
    facts |= {entry: one.fact for entry, one in refused.items()}
    names = dict(Staff.objects.filter(reference__in=_authors(facts.values())).values_list("reference", "name"))
    cursors = {one["entry"]: Cursor(one["latest"], one["entry"]) for one in wanted}
    struck = _struck(facts)
    found_acts = [
        _act(of, facts.get(entry, {}), names, cursors[entry], struck.get(entry, {})) for entry, of in grouped.items()
    ]
    reviews = reviews_of({act.entry: act.episode_id for act in found_acts if act.unreviewed})
    over = over_since({act.entry: act.episode_id for act in found_acts if act.signs}, at=at)
    seen_to = {entry: one.seen_to for entry, one in refused.items()}
    return [
        replace(act, seen_to=seen_to.get(key := act.entry), reviewed=reviews.get(key), over=over.get(key))
        for act in found_acts
    ]


_STATES = {
    "waiting": Q(to_answer__gt=0),
    "answered": Q(to_answer=0, standing__gt=0),
    "withdrawn": Q(standing=0),
}


def _wanted(rows: QuerySet[Alert], filters: Filters) -> list[dict[str, Any]]:
    if filters.episode_id is not None:
        rows = rows.filter(episode_id=filters.episode_id)
    if filters.entry is not None:
        rows = rows.filter(entry=filters.entry)
    if filters.severity:
        rows = rows.filter(severity=filters.severity)
    if filters.escalated:
        rows = rows.filter(escalated_at__isnull=False)
    by_act = rows.values("episode_id", "entry").annotate(
        latest=Max("known_at"), to_answer=Count("pk", filter=WAITING), standing=Count("pk", filter=Q(open=True))
    )
    if filters.waiting or filters.state:
        by_act = by_act.filter(_STATES[filters.state or "waiting"])
    if filters.before is not None:
        seen = filters.before
        by_act = by_act.filter(Q(latest__lt=seen.known_at) | Q(latest=seen.known_at, entry__gt=seen.entry))
    first = [Case(When(entry=filters.first, then=0), default=1)] if filters.first else []
    wanted = by_act.order_by(*first, "-latest", "entry").values("episode_id", "entry", "latest")
    return [dict(one) for one in wanted[: filters.most]]


def _recorded(entries: Iterable[UUID]) -> dict[UUID, dict[str, object]]:
    """What stands in the record under these ids, as far as it can be read. No statement where there are none."""
    rows = Entry.objects.filter(id__in=list(entries)).values_list("id", "content__body")
    return {entry: orjson.loads(body) for entry, body in rows if body}


def _struck(facts: Mapping[UUID, Mapping[str, object]]) -> dict[UUID, dict[str, object]]:
    """What each of them struck out."""
    what = {entry: UUID(str(fact["entry"])) for entry, fact in facts.items() if fact.get("kind") == "struck_out"}
    read = _recorded(what.values())
    return {entry: read[key] for entry, key in what.items() if key in read}


def _authors(facts: Iterable[dict[str, object]]) -> list[str]:
    return [str(fact["by"]) for fact in facts if fact.get("by")]


def _act(
    rows: Sequence[Alert], fact: dict[str, object], names: dict[str, str], cursor: Cursor, struck: dict[str, object]
) -> Act:
    first = rows[0]
    inside = [_rule(row) for row in rows]
    states = {one.state for one in inside}
    state = next(word for word in ("waiting", "answered", "withdrawn") if word in states)
    shown = [one for one in inside if one.state != "withdrawn"] or inside
    by = str(fact.get("by", ""))
    return Act(
        episode_id=first.episode_id,
        reference=first.episode.reference,
        person=first.episode.person.full_name,
        number=first.episode.person.number,
        site=first.episode.site.name,
        entry=first.entry,
        fact=fact,
        by=names.get(by, by),
        happened_at=first.happened_at,
        known_at=max(row.known_at for row in rows),
        severity=min((one.severity for one in shown), key=grave),
        state=state,
        rules=sorted(inside, key=lambda one: grave(one.severity)),
        said=_said_about(rows),
        escalated_at=max((row.escalated_at for row in rows if row.escalated_at), default=None),
        cursor=cursor,
        struck=struck,
        barred=_barred(first.episode, struck),
    )


def _barred(episode: Episode, struck: Mapping[str, Any]) -> tuple[str, ...]:
    """The faults seen in an attempt that the proof of its skill bars for this person, by the protocol as it holds."""
    skills = protocols.loaded(episode.head.protocol_id).skills
    if struck.get("kind") != "attempt" or struck.get("skill") not in skills:
        return ()
    barred = skills[struck["skill"]].criterion(episode.side == "both").barred
    return tuple(key for key in struck.get("deviations", ()) if key in barred)


def _said_about(rows: Sequence[Alert]) -> list[Said]:
    """What was said about the act, once each, however many of its rules it was said of."""
    kinds = (StepKind.ACKNOWLEDGED, StepKind.TAKEN_BACK)
    steps = sorted((step for row in rows for step in row.steps.all() if step.kind in kinds), key=lambda step: step.pk)
    once = {(step.kind, step.at, step.by_id): step for step in steps}.values()
    back = max((step.pk for step in once if step.kind == StepKind.TAKEN_BACK), default=0)
    return [Said(step, gone=step.kind == StepKind.ACKNOWLEDGED and step.pk < back) for step in once]


def _rule(row: Alert) -> RuleInAct:
    words = words_of(protocols.loaded(row.episode.head.protocol_id), row.rule)
    state = "withdrawn" if not row.open else "answered" if row.acknowledged_at else "waiting"
    return RuleInAct(
        rule=row.rule,
        severity=row.severity,
        sentence=words.sentence,
        do_now=words.do_now,
        state=state,
        known_at=row.known_at,
        withdrawn_at=row.withdrawn_at,
        escalated_at=row.escalated_at,
        steps=sorted(row.steps.all(), key=lambda step: step.pk),
    )


def unread(actor: Staff) -> dict[str, int]:
    """How much news waits for the actor, and how much of it is critical: for the badge, asked every few seconds."""
    mine = Notice.objects.filter(staff=actor, read_at__isnull=True)
    found = mine.aggregate(all=Count("pk"), critical=Count("pk", filter=Q(severity=Severity.CRITICAL)), last=Max("pk"))
    return {"all": found["all"], "critical": found["critical"], "last": found["last"] or 0}


def notices(actor: Staff, *, most: int = 50) -> QuerySet[Notice]:
    """The actor's own news, newest first."""
    return Notice.objects.filter(staff=actor).select_related("episode__person").order_by("-pk")[:most]


def waiting_count(
    actor: Staff, *, at: datetime, may: Action = Action.SEE_ALERTS, episode_id: UUID | None = None
) -> int:
    """How many acts wait for an answer, among those that the actor may see or answer; of all, or of one episode."""
    rows = access.scoped(actor, may, Alert.objects.filter(WAITING), at=at)
    if episode_id is not None:
        rows = rows.filter(episode_id=episode_id)
    return rows.values("episode_id", "entry").distinct().count()


def critical_waiting(actor: Staff, *, at: datetime, may: Action = Action.SEE_ALERTS) -> QuerySet[Alert]:
    """Critical alerts that wait for an answer and that the actor may see, for Today and Caseload; or may answer, for
    the badge."""
    rows = Alert.objects.filter(WAITING, severity=Severity.CRITICAL)
    return access.scoped(actor, may, rows, at=at)
