"""Looking at a person is accounted for, and so is printing."""

from __future__ import annotations

from uuid import UUID

from django.db import transaction

from caseload.models import Episode
from clinic import access, clock
from clinic.access import Action
from clinic.audit import trail
from clinic.staff.models import Staff


@transaction.atomic(durable=True)
def note_opened(*, actor: Staff, episode_id: UUID, page: str) -> None:
    """Leave a trail row: this person was opened, on which page. Refused where the actor may not see them."""
    at = clock.now()
    episode = access.get(actor, Action.SEE_PERSON, Episode.objects.all(), at=at, pk=episode_id)
    detail = {"page": page}
    trail.record(actor, "person.opened", "episode", episode.reference, at=at, episode=episode.pk, detail=detail)


@transaction.atomic(durable=True)
def note_printed(*, actor: Staff, episode_id: UUID, what: str) -> None:
    """Leave a trail row: what was made ready to print about this person."""
    at = clock.now()
    episode = access.get(actor, Action.PRINT_PERSON, Episode.objects.all(), at=at, pk=episode_id)
    trail.record(
        actor, "person.printed", "episode", episode.reference, at=at, episode=episode.pk, detail={"what": what}
    )
