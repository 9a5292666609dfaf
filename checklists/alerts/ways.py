"""The way to somebody's alert: on the page of all that wait, to the card of the gravest of theirs."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime
from uuid import UUID

from django.db.models import QuerySet
from django.urls import reverse

from checklists.alerts.models import Alert
from checklists.alerts.selectors import WAITING, grave
from checklists.record.verdict import Raised
from clinic import access
from clinic.access import Action
from clinic.staff.models import Staff


@dataclass(frozen=True, slots=True)
class Waiting:
    """How many acts of somebody's wait for an answer, and the way to the first of them."""

    many: int
    way: str


def card_of(entry: UUID | str) -> str:
    """The address of an act's card. It stands on the first page, however many wait before it (`first`)."""
    return f"{reverse('alerts')}?first={entry}#act-{entry}"


def way_to(raised: Sequence[Raised]) -> str:
    """The way to the gravest of the alerts that came of one call, of equals to the first."""
    return card_of(min(raised, key=lambda one: grave(one.severity)).entry)


def waiting_for(actor: Staff, episode_id: UUID, *, at: datetime) -> Waiting | None:
    """What waits of one episode, among what the actor may see; None where nothing does."""
    rows = access.scoped(actor, Action.SEE_ALERTS, Alert.objects.filter(WAITING, episode_id=episode_id), at=at)
    return waiting_of(rows).get(episode_id)


def waiting_of(rows: QuerySet[Alert]) -> dict[UUID, Waiting]:
    """Of alerts that wait: how many acts they are for each episode, and the way to the gravest, of equals to the last
    known. One statement."""
    found: dict[UUID, list[tuple[int, datetime, UUID]]] = {}
    ordered = rows.order_by("-known_at", "entry")
    for episode, entry, severity, known_at in ordered.values_list("episode", "entry", "severity", "known_at"):
        found.setdefault(episode, []).append((grave(severity), known_at, entry))
    return {
        episode: Waiting(len({entry for _grave, _at, entry in of_one}), card_of(_first(of_one)))
        for episode, of_one in sorted(found.items())
    }


def _first(of_one: Iterable[tuple[int, datetime, UUID]]) -> UUID:
    return min(of_one, key=lambda one: one[0])[2]  # of equals the first, as they are ordered
