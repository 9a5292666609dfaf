"""Recording facts: the one write path, whichever door they come through."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from contextlib import ExitStack
from dataclasses import replace
from typing import Any
from uuid import UUID

from django.db import IntegrityError, transaction
from django.utils.translation import gettext as _

from checklists.judged.claims import read as read_claims
from checklists.record import steps
from checklists.record.late import release_held, settle_refused, turn_away_held
from checklists.record.moving import Moved, move_entries
from checklists.record.reception import MOST_AT_ONCE, Reception
from checklists.record.verdict import Raised, Recorded, Verdict
from clinic import access, clock
from clinic.access import Action
from clinic.audit.models import Origin
from clinic.audit.trail import came_from
from clinic.errors import Invalid
from clinic.staff.models import Staff

TAKEN = frozenset({"checklists_entry_id_key", "checklists_entrycontent_pkey"})  # whichever the database meets first
__all__ = [
    "Moved",
    "Raised",
    "Recorded",
    "Verdict",
    "import_entries",
    "move_entries",
    "record_entries",
    "release_held",
    "settle_refused",
    "turn_away_held",
]


def record_entries(
    *, actor: Staff, episode_id: UUID, entries: Sequence[Mapping[str, Any]], judged: object = None
) -> Recorded:
    """Record what somebody saw or did, entry by entry; returns means committed.

    `by` is the actor, `role` what the register says of them at `at`. One bad entry refuses that entry and no other; the
    same entry again is harmless. Refused as a whole: more than 1,000 at once, and an episode that is not the actor's to
    know of. `judged`: what the sender's own core had said of them (checklists/judged), which is compared and changes
    nothing.
    """
    _not_too_many(entries)
    claims, unread = read_claims(judged)

    def reception() -> Reception:
        return Reception(actor, clock.now(), Origin(came_from().door), judged=claims)

    recorded = _received(reception, episode_id, entries)
    return replace(recorded, judged=unread) if unread else recorded


def import_entries(*, actor: Staff, episode_id: UUID, entries: Sequence[Mapping[str, Any]]) -> Recorded:
    """Take history in: `by` and `at` are as given, however old, and signatures stand; `role` comes from the
    register."""
    _not_too_many(entries)
    access.permit(actor, Action.IMPORT_RECORD, clock.now())

    def reception() -> Reception:
        return Reception(actor, clock.now(), Origin.IMPORT, imported=True)

    return _received(reception, episode_id, entries)


def _received(reception: Callable[[], Reception], episode_id: UUID, entries: Sequence[Mapping[str, Any]]) -> Recorded:
    """One transaction; a second one where one of the ids was sent in between, or stands where the sender does not look:
    the second time it is known."""
    try:
        return _in_one_go(reception(), episode_id, entries)
    except IntegrityError as fault:
        if getattr(getattr(fault.__cause__, "diag", None), "constraint_name", None) not in TAKEN:
            raise
    with transaction.atomic(durable=True):
        return steps.receive(reception(), episode_id, entries)


def _in_one_go(reception: Reception, episode_id: UUID, entries: Sequence[Mapping[str, Any]]) -> Recorded:
    with ExitStack() as closing, transaction.atomic(durable=True):
        return steps.receive(reception, episode_id, entries, closing=closing)


def _not_too_many(entries: Sequence[object]) -> None:
    if len(entries) > MOST_AT_ONCE:
        raise Invalid(
            _("{n:,} entries at once are too many: nothing was taken. Send {most_at_once:,} at most.").format(
                n=len(entries), most_at_once=MOST_AT_ONCE
            ),
            code="too_many_entries",
        )
