"""Late facts and refused ones: what a clinic lead does about them."""

from __future__ import annotations

from uuid import UUID

import orjson
from django.db import transaction
from django.utils.translation import gettext as _

from caseload.models import Episode
from checklists.record import steps
from checklists.record.models import HeldEntry, RefusedEntry
from checklists.record.reception import Reception
from checklists.record.verdict import Recorded
from checklists.words import said
from clinic import access, clock
from clinic.access import Action
from clinic.audit import trail
from clinic.audit.models import Origin
from clinic.audit.trail import came_from
from clinic.errors import Conflict, Invalid
from clinic.outbox.post import publish
from clinic.staff.models import Staff


@transaction.atomic(durable=True)
def release_held(*, actor: Staff, held_id: UUID) -> Recorded | None:
    """Let a late fact into the record, as its author sent it. Released already: nothing happens. Turned away:
    Conflict."""
    at = clock.now()
    held = access.get(actor, Action.RELEASE_LATE, HeldEntry.objects.select_for_update(), at=at, pk=held_id)
    if held.released:
        return None
    if held.released is False:
        raise Conflict(_("This late fact has been looked at already and was not let in."))
    reception = Reception(actor, at, Origin(came_from().door), released=True)
    recorded = steps.receive(reception, held.episode_id, [orjson.loads(held.raw)])
    verdict = recorded.verdicts[0]
    if verdict.outcome == "refused":
        raise Invalid(
            _("It cannot be taken: {error}").format(error=said(verdict.error or "")), reasons=[verdict.error or ""]
        )
    _settle(held, actor, released=True)
    return recorded


@transaction.atomic(durable=True)
def turn_away_held(*, actor: Staff, held_id: UUID) -> None:
    """Look at a late fact and not let it in: it stays where it is, and its sender is told so when it is sent again."""
    at = clock.now()
    held = access.get(actor, Action.RELEASE_LATE, HeldEntry.objects.select_for_update(), at=at, pk=held_id)
    if held.released:
        raise Conflict(_("This late fact is in the record already. Strike it out there."))
    if held.released is None:
        _settle(held, actor, released=False)


def _settle(held: HeldEntry, actor: Staff, *, released: bool) -> None:
    held.released, held.settled_by, held.settled_at = released, actor, clock.now()
    held.save(update_fields=["released", "settled_by", "settled_at"])
    verb = "entry.released" if released else "entry.turned_away"
    trail.record(actor, verb, "entry", held.entry, at=held.settled_at, episode=held.episode_id)
    publish("entry.decided", {"held": str(held.pk)}, at=held.settled_at, dedupe_key=f"entry.decided:{held.pk}")


@transaction.atomic(durable=True)
def settle_refused(*, actor: Staff, refused_id: UUID, again_as: UUID | None = None) -> None:
    """What was refused has been seen to: recorded anew under this id, or not worth it. Settled already: nothing
    happens."""
    at = clock.now()
    row = access.get(
        actor, Action.SEE_REFUSED, RefusedEntry.objects.select_for_update(of=("self",)), at=at, pk=refused_id
    )
    if row.settled_at is None:
        RefusedEntry.objects.filter(pk=row.pk).update(settled_at=at, settled_by=actor, again_as=again_as)
        detail = {"as": str(again_as)} if again_as else {}
        trail.record(actor, "entry.settled", "refused_entry", row.pk, at=at, episode=row.episode_id, detail=detail)


@transaction.atomic(durable=True)
def settle_own(*, actor: Staff, episode_id: UUID, entry: UUID, reason: str, again_as: UUID | None = None) -> None:
    """Whoever sent what was refused has seen to it on the tablet: dropped it, or recorded it again under this id. The
    reason stays."""
    at = clock.now()
    episode = access.get(actor, Action.RECORD_KNEE, Episode.objects.all(), at=at, pk=episode_id)
    rows = RefusedEntry.objects.filter(sender=actor, episode=episode, settled_at__isnull=True)
    rows.filter(raw__contains=str(entry)).update(settled_at=at, settled_by=actor, again_as=again_as)
    detail = {"reason": reason.strip()}
    trail.record(actor, "entry.settled", "entry", entry, at=at, episode=episode.pk, detail=detail)
