"""What a lead sees before an account ends: everything that would be left without somebody."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from uuid import UUID

from caseload.leaving.selectors import InHand, at_the_bench, in_hand
from checklists.alerts.models import Alert
from checklists.alerts.selectors import WAITING
from checklists.record.models import HeldEntry, RefusedEntry
from clinic import access
from clinic.access import Action
from clinic.staff import sessions
from clinic.staff.models import Staff
from clinic.staff.session_models import Pin


@dataclass(frozen=True, slots=True)
class OnePerson:
    """One person in their hands, with the alerts about them that nobody has answered."""

    plan: InHand
    alerts: int


@dataclass(frozen=True, slots=True)
class Leaving:
    """Somebody, and what is in their hands. `held` and `refused`: what they sent and a lead has not seen to yet."""

    staff: Staff
    people: Sequence[OnePerson]
    held: int
    refused: int
    seen_at_bench: int
    sessions: int
    has_pin: bool

    @property
    def keys(self) -> frozenset[UUID]:
        """The episodes that have to be handed on."""
        return frozenset(person.plan.episode_id for person in self.people)


def leaving(actor: Staff, staff_id: UUID, *, at: datetime) -> Leaving:
    """Somebody whom the actor manages, and what is in their hands."""
    staff = access.get(actor, Action.MANAGE_STAFF, Staff.objects.select_related("site"), at=at, pk=staff_id)
    plans = in_hand(actor, staff_id, at=at)
    carried = [plan.episode_id for plan in plans if plan.carries]
    alerts = Counter(Alert.objects.filter(WAITING, episode__in=carried).values_list("episode_id", flat=True))
    return Leaving(
        staff=staff,
        people=[OnePerson(plan, alerts[plan.episode_id]) for plan in plans],
        held=HeldEntry.objects.filter(sender_id=staff_id, released__isnull=True).count(),
        refused=RefusedEntry.objects.filter(sender_id=staff_id, settled_at__isnull=True).count(),
        seen_at_bench=at_the_bench(staff_id).seen,
        sessions=sessions.open_sessions(staff, at=at).count(),
        has_pin=Pin.objects.filter(staff_id=staff_id).exists(),
    )
