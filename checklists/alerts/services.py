"""Answering alerts, and taking an answer back."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from uuid import UUID

from django.db import transaction
from django.utils.translation import gettext as _

from caseload.episode.models import Episode
from checklists.alerts.models import Alert, AlertStep, Notice, StepKind
from clinic import access, clock
from clinic.access import Action
from clinic.audit import trail
from clinic.errors import Invalid, NotFound
from clinic.staff.models import Staff

LONGEST = 2_000


@transaction.atomic(durable=True)
def acknowledge(*, actor: Staff, episode_id: UUID, entry: UUID, text: str) -> int:
    """Say what was done about an act: answers every open alert of it, and returns how many that were.

    Answered already: it follows the answer before, and both stand; the same words of the same person again change
    nothing. A rule that joins the act later opens it again. Refused: no word of what was done.
    """
    at = clock.now()
    rows = _open_of(actor, episode_id, entry, at)
    text = _said(text, _("Say what was done about it."))
    waiting = [row for row in rows if row.acknowledged_at is None]
    to = waiting or rows
    if not to or (not waiting and _repeats(actor, rows, text)):
        return 0
    Alert.objects.filter(pk__in=[row.pk for row in waiting]).update(acknowledged_at=at, acknowledged_by=actor)
    AlertStep.objects.bulk_create(
        AlertStep(alert=row, kind=StepKind.ACKNOWLEDGED, at=at, by=actor, text=text) for row in to
    )
    detail = {"rules": sorted(row.rule for row in to)}
    trail.record(actor, "alert.acknowledged", "entry", entry, at=at, episode=episode_id, detail=detail)
    return len(to)


@transaction.atomic(durable=True)
def take_back(*, actor: Staff, episode_id: UUID, entry: UUID, text: str) -> int:
    """Say why the answer to an act is wrong: it stays in sight as taken back, and every alert that it answered waits
    again; returns how many that were.

    The time for an answer counts on from when each became known: where it is over, the leads hear of it with the next
    scan, though they heard of it once before. Nothing answered, or taken back already: nothing changes. Refused: no
    word of why.
    """
    at = clock.now()
    rows = _open_of(actor, episode_id, entry, at)
    text = _said(text, _("Say why the answer is taken back."))
    answered = [row for row in rows if row.acknowledged_at is not None]
    if not answered:
        return 0
    again = Alert.objects.filter(pk__in=[row.pk for row in answered])
    again.update(acknowledged_at=None, acknowledged_by=None, escalated_at=None)
    AlertStep.objects.bulk_create(
        AlertStep(alert=row, kind=StepKind.TAKEN_BACK, at=at, by=actor, text=text) for row in answered
    )
    detail = {"rules": sorted(row.rule for row in answered)}
    trail.record(actor, "alert.answer_taken_back", "entry", entry, at=at, episode=episode_id, detail=detail)
    return len(answered)


def _open_of(actor: Staff, episode_id: UUID, entry: UUID, at: datetime) -> list[Alert]:
    """The open alerts of an act that is the actor's to answer, locked; NotFound where the act never had one."""
    episode = access.get(actor, Action.ACKNOWLEDGE_ALERT, Episode.objects.all(), at=at, pk=episode_id)
    rows = list(Alert.objects.select_for_update(no_key=True).filter(episode=episode, entry=entry))
    if not rows:
        raise NotFound(_("There is no alert on this act."))
    return [row for row in rows if row.open]


def _said(text: str, missing: str) -> str:
    text = text.strip()
    if not text:
        raise Invalid(missing, reasons=["text: is missing"])
    if len(text) > LONGEST:
        raise Invalid(_("Say it in {longest:,} characters.").format(longest=LONGEST), reasons=["text: too long"])
    return text


def _repeats(actor: Staff, rows: Sequence[Alert], text: str) -> bool:
    """Whether it is the last answer once more: a press too many, or a call that was sent again."""
    last = AlertStep.objects.filter(alert__in=rows, kind=StepKind.ACKNOWLEDGED).order_by("-pk").first()
    return last is not None and (last.by_id, last.text) == (actor.pk, text)


@transaction.atomic(durable=True)
def read_notice(*, actor: Staff, number: int) -> int:
    """One piece of one's own news has been looked at; anybody else's, or one read before, changes nothing."""
    at = clock.now()
    new = Notice.objects.filter(staff=actor, read_at__isnull=True, pk=number).update(read_at=at)
    if new:
        trail.record(actor, "news.read", "staff", actor.reference, at=at, detail={"notices": new, "notice": number})
    return new


@transaction.atomic(durable=True)
def read_notices(*, actor: Staff, up_to: int, since: int = 0) -> int:
    """One's own news up to a number has been looked at, or of it what came `since` another; returns how many."""
    at = clock.now()
    unread = Notice.objects.filter(staff=actor, read_at__isnull=True, pk__gte=since, pk__lte=up_to)
    new = unread.update(read_at=at)
    if new:
        detail = {"notices": new, "up_to": up_to} | ({"since": since} if since else {})
        trail.record(actor, "news.read", "staff", actor.reference, at=at, detail=detail)
    return new
