"""Looking at a person is accounted for, and so is printing."""

from __future__ import annotations

from collections.abc import Iterable
from uuid import UUID

from django.db import transaction

from caseload.looked.selectors import opened_today, took_today
from caseload.looked.steps import looked
from clinic import clock
from clinic.access import Action
from clinic.staff.models import Staff


@transaction.atomic(durable=True)
def note_opened(*, actor: Staff, episode_id: UUID, page: str) -> None:
    """Leave a trail row: this person was opened, on which page. Refused where the actor may not see them."""
    looked(actor, "person.opened", episode_id, at=clock.now(), detail={"page": page})


@transaction.atomic(durable=True)
def note_opened_today(*, actor: Staff, episodes: Iterable[UUID], page: str) -> None:
    """Leave a trail row for each person of whom this page shows something: one a day, person and actor, for a page that
    is looked at again and again. Refused where the actor may not see one of them."""
    at, wanted = clock.now(), list(episodes)
    there = opened_today(actor, wanted, page, at=at) if wanted else set()
    for episode_id in wanted:
        if episode_id not in there:
            looked(actor, "person.opened", episode_id, at=at, detail={"page": page})


@transaction.atomic(durable=True)
def note_taken(*, actor: Staff, episode_id: UUID) -> None:
    """Leave a trail row: this person was taken onto a tablet, to be recorded for without a network.

    One a day and actor: a tablet asks again each minute. Refused where the actor may not record for them.
    """
    at = clock.now()
    if not took_today(actor, episode_id, at=at):
        looked(actor, "person.taken", episode_id, at=at, action=Action.RECORD_KNEE)


@transaction.atomic(durable=True)
def note_printed(*, actor: Staff, episode_id: UUID, what: str) -> None:
    """Leave a trail row: what was made ready to print about this person."""
    _printed(actor, [episode_id], what)


@transaction.atomic(durable=True)
def note_all_printed(*, actor: Staff, episodes: Iterable[UUID], what: str) -> None:
    """Leave a trail row for each person on what was made ready to print: all of them, or it is not shown."""
    _printed(actor, episodes, what)


def _printed(actor: Staff, episodes: Iterable[UUID], what: str) -> None:
    at, detail = clock.now(), {"what": what}
    for episode_id in episodes:
        looked(actor, "person.printed", episode_id, at=at, detail=detail, action=Action.PRINT_PERSON)
