"""What no longer reaches somebody from a day on, were their site and roles changed so."""

from __future__ import annotations

import copy
import hashlib
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from uuid import UUID

from caseload.models import Episode
from clinic import access, clock
from clinic.access import Action
from clinic.access.words import words_of
from clinic.staff.models import Site, Staff
from clinic.staff.roles import Role

MOST = 100  # people whose names are listed; the number beside them is the whole


@dataclass(frozen=True, slots=True)
class Lost:
    """One person whom they would reach no more. `carried`: in their hands on that day, and so to be handed on."""

    episode_id: UUID
    name: str
    number: str
    site: str
    carried: bool


@dataclass(frozen=True, slots=True)
class Losses:
    """What a change would take from somebody: what they may no longer do at all, and whom they reach no more."""

    actions: tuple[str, ...]  # as they are named in English: the digest is of these
    people: Sequence[Lost]
    count: int

    @property
    def digest(self) -> str:
        """Names what was shown, so that a change is made in view of it. Empty where nothing is lost."""
        said = [*self.actions, *sorted(f"{one.episode_id} {one.carried}" for one in self.people), str(self.count)]
        return hashlib.sha256("\n".join(said).encode()).hexdigest() if self.actions or self.count else ""

    @property
    def may_no_longer(self) -> list[str]:
        """The actions in the reader's words."""
        return sorted(words_of(Action(action.replace(" ", "_"))) for action in self.actions)

    @property
    def left_alone(self) -> int:
        """How many would have a therapist who no longer reaches them."""
        return sum(one.carried for one in self.people)


def losses(actor: Staff, staff_id: UUID, *, on_day: date, site_id: UUID, roles: Iterable[str], at: datetime) -> Losses:
    """Compare what reaches somebody on that day as things stand with what would."""
    staff = access.get(actor, Action.MANAGE_STAFF, Staff.objects.select_related("site"), at=at, pk=staff_id)
    day = max(clock.day_starts(on_day, staff.site.time_zone), at)
    moved = copy.copy(staff)
    moved.site = Site.objects.get(pk=site_id)
    before, after = staff.roles_on(on_day), frozenset(Role(role) for role in roles)
    gone = [a for a in Action if access.reach_of(before, a) and not access.reach_of(after, a)]
    lost = _reached(staff, before, day) - _reached(moved, after, day)
    carried = _carried(staff, before, day) - _carried(moved, after, day)
    rows = Episode.objects.filter(pk__in=lost | carried).select_related("person", "site")
    named = rows.order_by("person__family_name", "pk")
    people = [Lost(row.pk, row.person.full_name, row.person.number, row.site.name, row.pk in carried) for row in named]
    people.sort(key=lambda one: not one.carried)
    words = tuple(sorted(action.replace("_", " ") for action in gone))
    return Losses(words, people[:MOST], len(people))


def _reached(staff: Staff, roles: Iterable[Role], at: datetime) -> set[UUID]:
    scope = access.reach_of(roles, Action.SEE_PERSON)
    if scope is None:
        return set()
    rows = Episode.objects.filter(Episode.within(staff, scope, at), closed_at__isnull=True)
    return set(rows.values_list("pk", flat=True))


def _carried(staff: Staff, roles: Iterable[Role], at: datetime) -> set[UUID]:
    """Whom they carry, where they may."""
    if access.reach_of(roles, Action.CARRY_EPISODE) is None:
        return set()
    rows = Episode.objects.filter(closed_at__isnull=True, assignments__staff=staff, assignments__period__contains=at)
    return set(rows.values_list("pk", flat=True))
