"""What the worker does with news from the outbox. Every handler may be called twice for one row and tells nobody
twice."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from typing import Any
from uuid import UUID

from caseload.models import AdjustmentRequest, PlannedReview
from checklists.alerts import recipients
from checklists.alerts.models import Alert, Notice, Severity
from checklists.alerts.notices import News, send_mail, tell
from checklists.alerts.steps import named
from clinic.staff.roles import Role

Payload = Mapping[str, Any]


def tell_raised(payload: Payload, at: datetime) -> None:
    """Alerts were raised: one notice an act, to whoever must hear of its gravest rule. Withdrawn meanwhile: nobody."""
    episode = UUID(payload["episode"])
    acts: dict[UUID, list[Alert]] = {}
    for row in Alert.objects.filter(named(episode, payload["alerts"]), open=True).order_by("known_at"):
        acts.setdefault(row.entry, []).append(row)
    for entry, rows in acts.items():
        gravest = min((Severity(row.severity) for row in rows), key=list(Severity).index)
        latest = max(row.known_at for row in rows)
        to = recipients.of_alert(episode, gravest, happened_at=rows[0].happened_at, at=at)
        key = f"alert.raised:{entry}:{latest.isoformat()}"
        tell(News("alert.raised", gravest, key, str(entry), episode), to, at)


def tell_struck_away(payload: Payload, at: datetime) -> None:
    """Somebody struck out what a critical alert rested on: the leads look at it."""
    episode = UUID(payload["episode"])
    for row in Alert.objects.filter(named(episode, payload["alerts"]), open=False):
        key = f"alert.struck_away:{row.pk}:{row.withdrawn_with}"
        tell(News("alert.struck_away", Severity.CRITICAL, key, str(row.entry), episode), recipients.leads(at), at)


def tell_escalated(payload: Payload, at: datetime) -> None:
    """Nobody has answered in time: the leads hear of it; again where an answer was taken back since."""
    for row in Alert.objects.filter(pk=payload["alert"], open=True, acknowledged_at__isnull=True):
        if row.escalated_at is None:  # opened again meanwhile: its own news follows
            continue
        key = f"alert.escalated:{row.pk}:{row.escalated_at.isoformat()}"
        tell(News("alert.escalated", row.severity, key, str(row.entry), row.episode_id), recipients.leads(at), at)


def tell_held(payload: Payload, at: datetime) -> None:
    """A late fact waits for a lead."""
    episode = UUID(payload["episode"])
    for held in payload["held"]:
        tell(News("entry.held", Severity.MAJOR, f"entry.held:{held}", held, episode), recipients.leads(at), at)


def take_back_held(payload: Payload, at: datetime) -> None:
    """A late fact is decided: it is news for nobody any more."""
    waiting = Notice.objects.filter(topic="entry.held", subject_id=payload["held"], read_at__isnull=True)
    waiting.update(read_at=at)


def tell_reminded(payload: Payload, at: datetime) -> None:
    """A review has reached a rung of the ladder: the therapists hear of it, from 'escalated' on the leads too."""
    review = PlannedReview.objects.filter(
        pk=payload["review"], due_on=payload["due_on"], done_at__isnull=True, cancelled_at__isnull=True
    ).first()
    if review is None:
        return
    to = recipients.therapists(review.episode_id, [at])
    if payload["rung"] == "escalated" or not to:
        to |= recipients.leads(at)
    severity = Severity.MAJOR if payload["rung"] in ("overdue", "escalated") else Severity.MINOR
    key = f"review.{payload['rung']}:{review.pk}:{payload['due_on']}"
    tell(News(f"review.{payload['rung']}", severity, key, str(review.pk), review.episode_id), to, at)


def tell_asked(payload: Payload, at: datetime) -> None:
    """The bench hears of a request."""
    to = recipients.with_role(Role.PROSTHETIST, at)
    request = payload["request"]
    tell(News("request.asked", Severity.MINOR, f"request.asked:{request}", request, UUID(payload["episode"])), to, at)


def tell_answered(payload: Payload, at: datetime) -> None:
    """Whoever asked hears of the answer, and whoever carries the person or stands in; where nobody does, the leads."""
    request, episode = payload["request"], UUID(payload["episode"])
    here = AdjustmentRequest.objects.filter(pk=request, asked_by__is_active=True).values_list("asked_by_id", flat=True)
    to = {*here, *recipients.therapists(episode, [at])} or recipients.leads(at)
    tell(News("request.answered", Severity.MINOR, f"request.answered:{request}", request, episode), to, at)


def tell_given(payload: Payload, at: datetime) -> None:
    """Somebody was given an episode, to carry or to cover."""
    episode = UUID(payload["episode"])
    key = f"episode.given:{payload['given']}"
    tell(News("episode.given", Severity.MINOR, key, str(episode), episode), [UUID(payload["staff"])], at)


def tell_left(payload: Payload, at: datetime) -> None:
    """A therapist has left and nobody carries somebody any more: the leads hear of it."""
    episode = UUID(payload["episode"])
    key = f"episode.left:{episode}:{payload['staff']}"
    tell(News("episode.left", Severity.MAJOR, key, str(episode), episode), recipients.leads(at), at)


def tell_moved(payload: Payload, at: datetime) -> None:
    """An episode has moved to another site: whoever carries it hears of it."""
    episode = UUID(payload["episode"])
    key = f"episode.transferred:{episode}:{payload['version']}"
    to = recipients.therapists(episode, [at])
    tell(News("episode.transferred", Severity.MINOR, key, str(episode), episode), to, at)


def tell_alarm(payload: Payload, at: datetime) -> None:
    """An alarm of the server itself: leads and records officers hear of it."""
    to = recipients.leads(at) | recipients.with_role(Role.RECORDS_OFFICER, at)
    tell(News("alarm.raised", Severity.CRITICAL, f"alarm.raised:{payload['alarm']}", payload["alarm"]), to, at)


def tell_emergency(payload: Payload, at: datetime) -> None:
    """Somebody reads a record that is not theirs: the leads hear of it at once."""
    key = payload["emergency"]
    news = News("emergency.opened", Severity.CRITICAL, f"emergency.opened:{key}", key, UUID(payload["episode"]))
    tell(news, recipients.leads(at), at)


def send_mail_of(payload: Payload, at: datetime) -> None:
    """The e-mail of a notice."""
    send_mail(int(payload["notice"]), at)
