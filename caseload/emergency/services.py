"""Opening a record in an emergency, and judging afterwards whether that was needed."""

from __future__ import annotations

from datetime import datetime, timedelta
from uuid import UUID

from django.db import transaction
from django.db.backends.postgresql.psycopg_any import DateTimeTZRange
from django.db.models import F
from django.utils.translation import gettext as _

from caseload.emergency.models import EmergencyAccess, Judgement
from caseload.episode.models import Episode
from caseload.writes import because, fit, refused_as
from clinic import access, clock
from clinic.access import Action
from clinic.access.standing import beyond
from clinic.audit import trail
from clinic.errors import Conflict, Denied, Invalid, Refusal
from clinic.outbox.post import publish
from clinic.staff.models import Staff

HOUR = timedelta(hours=1)
SHORTEST = 10  # letters: a reason that a reviewer can weigh


class NobodyFound(Refusal):
    """Number and name do not go together, or there is no open episode of theirs."""

    code = "nobody_found"
    status = 422


def open_emergency(*, actor: Staff, number: str, family_name: str, reason: str) -> EmergencyAccess:
    """Let the actor read one episode for an hour; the clinic leads are told at once, and one of them judges it.

    Who it is is said by two identifiers: the clinic's number and the family name. A grant that still runs is given
    again. Refused: no reason; nobody by these; a person whom the actor may see anyway.
    """
    at = clock.now()
    access.permit(actor, Action.OPEN_EMERGENCY, at)
    reason = because(reason, _("Say why you must read this now: a clinic lead will ask."))
    if len(reason) < SHORTEST:
        raise Invalid(_("Say in a few words why you must read this now: a clinic lead will ask."))
    with beyond("who may open anybody's record in an emergency names whose it is"):
        episode = _episode(number.strip(), family_name.strip())
    if episode is None:
        trail.record(actor, "emergency.nobody_found", "staff", actor.reference, at=at)
        raise NobodyFound(_("Nobody has this number and this family name. Check both on the person's letter or label."))
    return _granted(actor, episode, reason, at)


@transaction.atomic(durable=True)
def _granted(actor: Staff, episode: Episode, reason: str, at: datetime) -> EmergencyAccess:
    running = EmergencyAccess.objects.filter(staff=actor, episode=episode, period__contains=at).first()
    if running is not None:
        return running
    if access.scoped(actor, Action.SEE_PERSON, Episode.objects.filter(pk=episode.pk), at=at).exists():
        raise Conflict(_("You may see this person anyway: look under People."))
    grant = EmergencyAccess(episode=episode, staff=actor, period=DateTimeTZRange(at, at + HOUR), reason=reason)
    fit(grant)
    with refused_as(lambda: Conflict(_("This was opened a moment ago: look under People.")), "emergency_once"):
        grant.save(force_insert=True)
    detail = {"until": grant.period.upper.isoformat()}
    trail.record(actor, "emergency.opened", "emergency", grant.pk, at=at, episode=episode.pk, detail=detail)
    news = {"emergency": str(grant.pk), "episode": str(episode.pk)}
    publish("emergency.opened", news, at=at, dedupe_key=f"emergency.opened:{grant.pk}")
    return grant


@transaction.atomic(durable=True)
def judge_emergency(*, actor: Staff, emergency_id: UUID, judgement: str, text: str) -> EmergencyAccess:
    """A clinic lead says whether it was needed, and what came of it. Once, and never of one's own."""
    at = clock.now()
    rows = EmergencyAccess.objects.select_for_update(no_key=True, of=("self",)).select_related("staff")
    grant = access.get(actor, Action.JUDGE_EMERGENCY, rows, at=at, pk=emergency_id)
    if grant.staff_id == actor.pk:
        raise Denied(_("You cannot judge your own. Ask another clinic lead."))
    if grant.judged_at is not None:
        raise Conflict(_("Somebody has judged this already. Open the page again."))
    if judgement not in Judgement.values:
        raise Invalid(_("Say whether it was needed."))
    grant.judgement, grant.judged_by, grant.judged_at = judgement, actor, at
    grant.judged_text = because(text, _("Say what you found: that is what a later reader will ask."))
    fit(grant)
    grant.save(update_fields=["judgement", "judged_by", "judged_at", "judged_text"])
    detail = {"judgement": judgement}
    trail.record(actor, "emergency.judged", "emergency", grant.pk, at=at, episode=grant.episode_id, detail=detail)
    return grant


def _episode(number: str, family_name: str) -> Episode | None:
    """The newest episode of whoever has both."""
    found = Episode.objects.filter(person__number__iexact=number, person__family_name__iexact=family_name)
    newest = F("closed_at").desc(nulls_first=True)
    return found.select_related("person", "site").order_by(newest, "-created_at").first() if number else None
