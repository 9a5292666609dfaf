"""Ending an account with what is in its owner's hands: handed on to colleagues, or left to nobody and said so."""

from __future__ import annotations

from collections.abc import Mapping
from uuid import UUID

from django.db import transaction
from django.utils.translation import gettext as _

from caseload.assignment.steps import carrier
from caseload.leaving.selectors import InHand, in_hand
from caseload.leaving.steps import hand_on
from clinic import clock
from clinic.audit import trail
from clinic.errors import Conflict, Invalid
from clinic.outbox.post import publish
from clinic.staff import steps
from clinic.staff.ending import end_account
from clinic.staff.models import Staff


@transaction.atomic(durable=True)
def end_staff(
    *,
    actor: Staff,
    staff_id: UUID,
    reason: str,
    to: UUID | None = None,
    each: Mapping[UUID, UUID] | None = None,
    nobody: bool = False,
) -> Staff:
    """Close an account: they can do nothing any more, and everything that they did stays theirs. Twice is once.

    `to`: the colleague who takes over what is in their hands; `each`: episode → another colleague for this one person;
    `nobody`: whoever is left is left to nobody on purpose. Without any of these a person in their hands is a Conflict
    that names them, and nothing has happened.
    """
    at = clock.now()
    steps.one_hand_at_the_list()
    staff = steps.managed(actor, staff_id, at=at)
    if not staff.is_active:
        return staff
    if not reason.strip():
        raise Invalid(_("Say why the account is closed: it will be read later."))
    people = in_hand(actor, staff_id, at=at)
    takers = _takers(people, staff, to, each or {}, nobody=nobody)
    colleagues = {key: carrier(key, at) for key in sorted({key for key in takers.values() if key}, key=str)}
    why = f"{staff.name} has left: {reason.strip()}"[:400]
    for person in people:
        taker = takers[person.episode_id]
        hand_on(person.episode_id, staff, colleagues[taker] if taker else None, actor=actor, at=at, reason=why)
    end_account(staff, actor=actor, at=at, reason=reason.strip())
    left = [person for person in people if takers[person.episode_id] is None and person.carries]
    if left:
        _say_left(staff, left, actor=actor)
    return staff


def _takers(
    people: list[InHand], staff: Staff, to: UUID | None, each: Mapping[UUID, UUID], *, nobody: bool
) -> dict[UUID, UUID | None]:
    """Episode → who takes over. Somebody for whom nothing was said is refused by name."""
    takers = {person.episode_id: each.get(person.episode_id) or to for person in people}
    if staff.pk in takers.values():
        raise Invalid(_("{name} leaves: choose a colleague.").format(name=staff.name))
    open_ends = [person.name for person in people if takers[person.episode_id] is None]
    if open_ends and not nobody:
        raise Conflict(
            _(
                "{name} still has somebody in hand. Name a colleague for each, or say that nobody takes over yet."
            ).format(name=staff.name),
            code="still_in_hand",
            reasons=[f"{name}: nobody is named" for name in open_ends],
        )
    return takers


def _say_left(staff: Staff, left: list[InHand], *, actor: Staff) -> None:
    """Nobody carries them from now on: the trail says so, the leads hear of it, and Caseload lists them."""
    at = clock.now()
    for person in left:
        detail = {"by": staff.reference}
        trail.record(
            actor, "episode.left_to_nobody", "episode", person.number, at=at, episode=person.episode_id, detail=detail
        )
        news = {"episode": str(person.episode_id), "staff": str(staff.pk)}
        publish("episode.left", news, at=at, dedupe_key=f"episode.left:{person.episode_id}:{staff.pk}")
