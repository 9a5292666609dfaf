"""What was set aside, in words: for the lead all of it, for everybody else what they sent."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any, TypedDict
from uuid import UUID

import orjson
from django.utils.translation import gettext as _

from checklists.person.facts import tell
from checklists.record.models import HeldEntry, RefusedEntry
from checklists.record.selectors import held_entries, refused_entries
from checklists.words import said
from clinic import access
from clinic.access import Action
from clinic.staff.models import Staff

MOST = 100


@dataclass(frozen=True, slots=True)
class Aside:
    """One entry that is not in the record. `happened`: when, where that can be read; `why`: the error, or what it
    waits for; `said`: what was sent, as it came."""

    id: UUID
    episode_id: UUID | None
    person: str
    sender: str
    received_at: datetime
    what: str
    more: str
    happened: datetime | None
    why: str
    said: str
    urgent: bool


@dataclass(frozen=True, slots=True)
class AsidePage:
    """The page. `may_release`: the reader lets late facts in, or turns them away."""

    held: list[Aside]
    refused: list[Aside]
    may_release: bool


def aside_page(actor: Staff, *, at: datetime) -> AsidePage:
    """What waits, oldest first, and what was refused and not yet seen to, newest first."""
    access.permit(actor, Action.SEE_REFUSED, at)
    return AsidePage(
        held=[_held(row) for row in held_entries(actor, at=at)[:MOST]],
        refused=[_refused(row) for row in refused_entries(actor, at=at)[:MOST]],
        may_release=access.reach(actor, Action.RELEASE_LATE, at) is not None,
    )


def waiting_aside(actor: Staff, *, at: datetime) -> int:
    """How much of it waits for the actor."""
    return held_entries(actor, at=at).count() + refused_entries(actor, at=at).count()


def _held(row: HeldEntry) -> Aside:
    return Aside(
        id=row.pk,
        episode_id=row.episode_id,
        person=row.episode.person.full_name,
        sender=row.sender.name,
        received_at=row.received_at,
        **_in_words(row.raw),
        why=said(row.reason),
        said=row.raw,
        urgent=False,
    )


def _refused(row: RefusedEntry) -> Aside:
    return Aside(
        id=row.pk,
        episode_id=row.episode_id,
        person=row.episode.person.full_name if row.episode else "",
        sender=row.sender.name,
        received_at=row.received_at,
        **_in_words(row.raw),
        why=said(row.error),
        said=row.raw,
        urgent=row.urgent,
    )


class _Words(TypedDict):
    what: str
    more: str
    happened: datetime | None


def _in_words(raw: str) -> _Words:
    """What it would have said, as far as that can be read."""
    try:
        sent: Any = orjson.loads(raw)
        if not isinstance(sent, Mapping):
            return {"what": _("Something that is no entry"), "more": "", "happened": None}
        told = tell(sent)
        return {"what": told.head, "more": told.detail, "happened": datetime.fromisoformat(sent["at"])}
    except (orjson.JSONDecodeError, KeyError, TypeError, ValueError, AttributeError):
        return {"what": _("An entry that cannot be read"), "more": "", "happened": None}
