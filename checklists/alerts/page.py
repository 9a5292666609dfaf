"""Alerts as the page shows them: an act in words, what it broke, what to do now, who has heard of it and who will."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta
from uuid import UUID

from django.conf import settings
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from caseload.models import Episode
from checklists.alerts import recipients, selectors
from checklists.alerts.models import Severity, StepKind
from checklists.alerts.news import news_words
from checklists.alerts.refused import seen_to_words
from checklists.alerts.reviewed import reviewed_words, theirs_to_review
from checklists.alerts.rules import FALL_UNREVIEWED, REFUSED_DANGER, SIGN_OFF_RULES
from checklists.alerts.selectors import Act, Filters, RuleInAct
from checklists.alerts.sign_offs import over_words
from checklists.alerts.struck import STRUCK, danger_words, is_own, what_now
from checklists.person.facts import Told, happened_at, tell
from checklists.words import Spoken, pgettext_noop, said
from checklists.words.tables import worded
from clinic import access, clock
from clinic.access import Action
from clinic.errors import NotFound
from clinic.staff.models import Staff
from clinic.web.pages import Page, cut
from clinic.web.tags import when

PAGE = 30
LATE = timedelta(minutes=15)
ALSO = 3  # other acts of the same person that an act leads to; the rest are counted
STATES = Spoken(
    {
        "waiting": pgettext_noop("alerts", "To answer"),
        "answered": pgettext_noop("alerts", "Answered"),
        "withdrawn": pgettext_noop("alerts", "Withdrawn"),
        "": pgettext_noop("alerts", "All"),
    },
    "alerts",
)


@dataclass(frozen=True, slots=True)
class Rung:
    """One step of the ladder: when, what; reached, or still to come."""

    at: datetime
    words: str
    reached: bool = True


@dataclass(frozen=True, slots=True)
class Shown:
    """One act on the page. `ring`: it is critical, waits, and the person is the reader's to see: then their telephone
    number stands there, as far as it is known."""

    act: Act
    told: Told
    mark: str
    late: bool
    do_now: list[str]
    past: bool  # an attempt of an earlier day: nobody stands there any more, and it is begun with next time
    ladder: list[Rung]
    may_answer: bool
    asks: str  # what the answer's field is called: it names the person, so that a card that moved is noticed
    may_add: bool = False  # there is an answer, which may be followed by another, or taken back
    first: str = ""  # who answers before the reader, and until when; nothing where it is the reader's as it stands
    ring: bool = False
    phone: str = ""
    may_review: bool = False  # the fall is still to be reviewed, and that is the reader's to record
    also: Sequence[tuple[UUID, str]] = ()  # other acts of this person on the page that wait, each answered by itself
    also_more: str = ""  # how many more of them there are than those

    @property
    def rules(self) -> Sequence[RuleInAct]:
        """The rules inside."""
        return self.act.rules


def shown_acts(actor: Staff, filters: Filters, *, at: datetime) -> Page[Shown]:
    """A page of acts, the last known first."""
    access.permit(actor, Action.SEE_ALERTS, at)
    found = selectors.acts(actor, filters, at=at)
    episodes = Episode.objects.filter(pk__in={act.episode_id for act in found})
    theirs = set(access.scoped(actor, Action.ACKNOWLEDGE_ALERT, episodes, at=at).values_list("pk", flat=True))
    phones, first = _phones(actor, found, at=at), _first(actor, found, at)
    page = cut(
        [_shown(actor, act, act.episode_id in theirs, phones, at, first.get(act.entry, "")) for act in found],
        PAGE,
        lambda one: one.act.cursor,
        newest=filters.before is None,
    )
    # what waits stands gravest first on its page; pages follow each other in time
    rows = _gravest_first(page.rows) if filters.state == "waiting" else page.rows
    return Page(_with_reviews(actor, _with_others(rows), at), page.older, page.newest)


def one_act(actor: Staff, episode_id: UUID, entry: UUID, *, at: datetime) -> Shown:
    """The act with this entry; NotFound where there is none that the actor may see."""
    found = selectors.acts(actor, Filters(episode_id=episode_id, entry=entry), at=at)
    phones = _phones(actor, found, at=at)
    shown = _with_reviews(actor, [_shown(actor, act, True, phones, at) for act in found], at)
    if not shown:
        raise NotFound(_("There is no alert here that you may see. Check the link, or ask a clinic lead."))
    return shown[0]


def taken_back_words(shown: Shown) -> str:
    """What is said once an answer is taken back."""
    words = _("{person}: the answer is taken back, and stays in sight. The alert waits for an answer again.")
    return words.format(person=shown.act.person)


def answered_words(actor: Staff, shown: Shown, *, at: datetime) -> str:
    """What is said once it is answered: whose, and what; and what of theirs still waits."""
    others = selectors.waiting_count(actor, at=at, episode_id=shown.act.episode_id)
    done = _("Answered for {person}: the alert “{what}”.").format(
        person=shown.act.person, what=shown.told.head.rstrip(".")
    )
    more = ngettext("{n} more of theirs waits.", "{n} more of theirs wait.", others).format(n=others)
    return f"{done} {more}" if others else done


def _phones(actor: Staff, acts: Sequence[Act], *, at: datetime) -> dict[UUID, str]:
    """The telephone numbers of those about whom something critical waits, and whom the actor may see. One statement."""
    grave = {act.episode_id for act in acts if act.waiting and act.severity == Severity.CRITICAL}
    rows = access.scoped(actor, Action.SEE_PERSON, Episode.objects.filter(pk__in=grave), at=at)
    return dict(rows.values_list("pk", "person__phone"))


def _first(actor: Staff, acts: Sequence[Act], at: datetime) -> dict[UUID, str]:
    """Of the acts that the therapist has the time for still, for whoever is not that therapist: who, and until when."""
    hears = {act.entry: _leads_hear_at(act) for act in acts if act.severity != recipients.BOTH_AT_ONCE}
    due = [(act, ends) for act in acts if (ends := hears.get(act.entry)) is not None and ends > at]
    carrying = recipients.therapists_by_name({act.episode_id for act, _ends in due}, at) if due else {}
    return {
        act.entry: _has_until(list(carrying[act.episode_id].values()), ends)
        for act, ends in due
        if act.episode_id in carrying and actor.pk not in carrying[act.episode_id]
    }


def _has_until(names: Sequence[str], ends: datetime) -> str:
    words = ngettext(
        "{names} has until {day}; you may answer too",
        "{names} have until {day}; you may answer too",
        len(names),
    )
    return words.format(names=", ".join(names), day=when(ends))


def _gravest_first(every: Sequence[Shown]) -> list[Shown]:
    """In the order of their severity, and as they stood where that is the same."""
    return sorted(every, key=lambda one: selectors.grave(one.act.severity))


def _with_reviews(actor: Staff, every: Sequence[Shown], at: datetime) -> list[Shown]:
    """Each with whether the review that is late is the actor's to record. One statement, where one is."""
    theirs = theirs_to_review(actor, {one.act.episode_id for one in every if one.act.unreviewed}, at=at)
    return [replace(one, may_review=one.act.unreviewed and one.act.episode_id in theirs) for one in every]


def _with_others(every: Sequence[Shown]) -> list[Shown]:
    """Each with the other acts of the same person that wait beside it on the page: the gravest, and how many more."""
    waiting = _gravest_first([one for one in every if one.act.waiting])
    return [_with(one, waiting) if one.act.waiting else one for one in every]


def _with(one: Shown, waiting: Sequence[Shown]) -> Shown:
    others = [
        (other.act.entry, other.told.head)
        for other in waiting
        if other is not one and other.act.episode_id == one.act.episode_id
    ]
    more = len(others) - ALSO
    return replace(one, also=others[:ALSO], also_more=_("and {n} more").format(n=more) if more > 0 else "")


def _shown(
    actor: Staff, act: Act, may_answer: bool, phones: Mapping[UUID, str], at: datetime, first: str = ""
) -> Shown:
    waiting = [rule for rule in act.rules if rule.state == "waiting"]
    return Shown(
        act=act,
        told=_told(act),
        mark="withdrawn" if act.state == "withdrawn" else act.severity,
        late=act.known_at - act.happened_at > LATE,
        do_now=list(dict.fromkeys(do_now(actor, act, rule) for rule in waiting)),
        past=act.fact.get("kind") == "attempt" and _day(actor, act.happened_at) < _day(actor, at),
        ladder=_ladder(act, at),
        may_answer=may_answer and act.waiting,
        asks=_asks(actor, act),
        may_add=may_answer and act.state != "withdrawn" and act.answer is not None,
        first=first,
        ring=(ring := act.waiting and act.severity == Severity.CRITICAL and act.episode_id in phones),
        phone=phones[act.episode_id] if ring else "",
    )


def _day(actor: Staff, at: datetime) -> date:
    return clock.local_day(at, actor.site.time_zone)


def _told(act: Act) -> Told:
    """What was recorded, in words; what could not be taken says why."""
    if act.fact.get("kind") == "refused":
        return Told(_("Sent, and refused"), said(str(act.fact.get("error", ""))), "unsafe")
    if act.struck:
        what, at = tell(act.struck), happened_at(act.struck)
        parts = (what.head, worded(what.mark, "mark") if what.mark else "", when(at))
        told = ", ".join(part for part in parts if part)
        detail = " · ".join(filter(None, (danger_words(act), str(act.fact.get("reason", "")))))
        return Told(_("Struck out: {what}").format(what=told), detail)
    return tell(act.fact) if act.fact else Told(_("An act that is no longer in the record"))


def do_now(actor: Staff, act: Act, rule: RuleInAct) -> str:
    """What the rule asks for; nobody is asked to record again what is seen to or reviewed, to withdraw what counts no
    longer, or to ask themselves."""
    if rule.rule == REFUSED_DANGER and act.seen_to:
        return seen_to_words(act.seen_to)
    if rule.rule == FALL_UNREVIEWED and act.reviewed:
        return reviewed_words(act.reviewed)
    if rule.rule in SIGN_OFF_RULES and act.over:
        return over_words(act.over)
    return what_now(actor, act, rule) if rule.rule == STRUCK else said(rule.do_now)


def _asks(actor: Staff, act: Act) -> str:
    """What the field of the answer asks for, and about whom."""
    if any(is_own(actor, act, rule) and rule.state != "withdrawn" for rule in act.rules):
        return _("What you did about it, for {person}").format(person=act.person)
    return _("What was done for {person}").format(person=act.person)


def _ladder(act: Act, at: datetime) -> list[Rung]:
    """Who has heard of it, in order; and, while it waits, when the leads will, or that they should have by now."""
    steps = sorted((step for rule in act.rules for step in rule.steps), key=lambda step: step.pk)
    raised = (
        _("raised, therapist and leads told")
        if act.severity == recipients.BOTH_AT_ONCE
        else _("raised, therapist told")
    )
    own = {str(StepKind.RAISED): raised, str(StepKind.ESCALATED): _("nobody answered: leads told")}
    rungs = {
        (step.kind, step.at): Rung(step.at, _by(own.get(step.kind, step.get_kind_display()), step)) for step in steps
    }
    ahead = []
    if (due := _leads_hear_at(act)) is not None:
        words = _("leads will be told, unless answered") if due > at else _("nobody answered: leads not told yet")
        ahead = [Rung(due, words, reached=False)]
    return [*rungs.values(), *ahead]


def _leads_hear_at(act: Act) -> datetime | None:
    """When the leads hear that nobody answered; nothing where they have, or where nothing waits."""
    if not act.waiting or act.escalated_at is not None:
        return None
    return act.known_at + timedelta(minutes=settings.ESCALATE_AFTER_MINUTES[act.severity])


def _by(words: str, step: object) -> str:
    by = getattr(step, "by", None)
    return _("{words} by {name}").format(words=words, name=by.name) if by else words


def waits(actor: Staff, *, at: datetime) -> dict[str, int]:
    """How many acts wait for an answer that the actor may see (`open`), and how many of them are theirs to answer."""
    seen = selectors.waiting_count(actor, at=at)
    alike = access.reach(actor, Action.SEE_ALERTS, at) == access.reach(actor, Action.ACKNOWLEDGE_ALERT, at)
    mine = seen if alike else selectors.waiting_count(actor, at=at, may=Action.ACKNOWLEDGE_ALERT)
    return {"open": seen, "mine": mine}


def tally(actor: Staff, *, at: datetime) -> dict[str, object]:
    """What every page asks for every few seconds: acts to answer, how many of those are critical, and what to say
    when there is news."""
    grave = selectors.critical_waiting(actor, at=at, may=Action.ACKNOWLEDGE_ALERT)
    unread = selectors.unread(actor)
    newest = next(iter(selectors.notices(actor, most=1)), None) if unread["all"] else None
    return {
        **waits(actor, at=at),
        "critical": grave.values("episode_id", "entry").distinct().count(),
        "unread": unread["all"],
        "latest": unread["last"],
        "word": f"{news_words(newest.topic)} ({Severity(newest.severity).label})" if newest else "",
    }
