"""Answering alerts."""

from __future__ import annotations

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

    Answered already: nothing changes. A rule that joins the act later opens it again. Refused: no word of what was
    done.
    """
    at = clock.now()
    episode = access.get(actor, Action.ACKNOWLEDGE_ALERT, Episode.objects.all(), at=at, pk=episode_id)
    text = text.strip()
    if not text:
        raise Invalid(_("Say what was done about it."), reasons=["text: is missing"])
    if len(text) > LONGEST:
        raise Invalid(_("Say it in {longest:,} characters.").format(longest=LONGEST), reasons=["text: too long"])
    rows = list(Alert.objects.select_for_update(no_key=True).filter(episode=episode, entry=entry))
    if not rows:
        raise NotFound(_("There is no alert on this act."))
    waiting = [row for row in rows if row.open and row.acknowledged_at is None]
    if not waiting:
        return 0
    Alert.objects.filter(pk__in=[row.pk for row in waiting]).update(acknowledged_at=at, acknowledged_by=actor)
    AlertStep.objects.bulk_create(
        AlertStep(alert=row, kind=StepKind.ACKNOWLEDGED, at=at, by=actor, text=text) for row in waiting
    )
    detail = {"rules": sorted(row.rule for row in waiting)}
    trail.record(actor, "alert.acknowledged", "entry", entry, at=at, episode=episode.pk, detail=detail)
    return len(waiting)


@transaction.atomic(durable=True)
def read_notice(*, actor: Staff, number: int) -> int:
    """One piece of one's own news has been looked at; anybody else's, or one read before, changes nothing."""
    at = clock.now()
    new = Notice.objects.filter(staff=actor, read_at__isnull=True, pk=number).update(read_at=at)
    if new:
        trail.record(actor, "news.read", "staff", actor.reference, at=at, detail={"notices": new, "notice": number})
    return new


@transaction.atomic(durable=True)
def read_notices(*, actor: Staff, up_to: int) -> int:
    """One's own news up to a number has been looked at; returns how many were new."""
    at = clock.now()
    new = Notice.objects.filter(staff=actor, read_at__isnull=True, pk__lte=up_to).update(read_at=at)
    if new:
        trail.record(actor, "news.read", "staff", actor.reference, at=at, detail={"notices": new, "up_to": up_to})
    return new
