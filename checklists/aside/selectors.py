"""What was set aside, in words: for the lead all of it, for everybody else what they sent."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any, TypedDict
from uuid import UUID

import orjson
from django.utils.translation import gettext as _

from caseload.models import Episode
from checklists.aside.known import known_words
from checklists.judged.selectors import differed
from checklists.person.facts import happened_at, tell
from checklists.record.models import HeldEntry, RefusedEntry
from checklists.record.selectors import held_entries, refused_entries
from checklists.sealed.selectors import waiting_by_author
from checklists.words import said
from clinic import access
from clinic.access import Action
from clinic.staff.models import Staff

MOST = 100


@dataclass(frozen=True, slots=True)
class Aside:
    """One entry that is not in the record. `happened`: when, where that can be read; `why`: the error, or what it
    waits for; `known`: the words that would have been taken; `said`: what was sent, as it came; `again`: the reader may
    enter it once more."""

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
    known: str = ""
    again: bool = False


@dataclass(frozen=True, slots=True)
class AsidePage:
    """The page. `may_release`: the reader lets late facts in, or turns them away; `differed`: how often a tablet and
    the server judged differently, for whoever may look at the cases; `brought`: how many marks that a tablet kept wait
    for whoever recorded them, for whoever keeps the tablets."""

    held: list[Aside]
    refused: list[Aside]
    may_release: bool
    differed: int | None
    brought: int | None


def aside_page(actor: Staff, *, at: datetime) -> AsidePage:
    """What waits, oldest first, and what was refused and not yet seen to, newest first."""
    access.permit(actor, Action.SEE_REFUSED, at)
    refused = list(refused_entries(actor, at=at)[:MOST])
    theirs = Episode.objects.filter(pk__in={row.episode_id for row in refused}, closed_at__isnull=True)
    open_to = set(access.scoped(actor, Action.RECORD, theirs, at=at).values_list("pk", flat=True))
    return AsidePage(
        held=held_for(actor, at=at),
        refused=[_refused(row, again=row.episode_id in open_to) for row in refused],
        may_release=access.reach(actor, Action.RELEASE_LATE, at) is not None,
        differed=differed(actor, at=at),
        brought=_brought(actor, at),
    )


def _brought(actor: Staff, at: datetime) -> int | None:
    if access.reach(actor, Action.MANAGE_TABLETS, at) is None:
        return None
    return sum(author.many for author in waiting_by_author(actor, at=at))


def held_for(actor: Staff, *, at: datetime) -> list[Aside]:
    """The late facts that wait for the actor's decision, oldest first; none where they decide nothing."""
    return [_held(row) for row in held_entries(actor, at=at)[:MOST]]


def held_words(actor: Staff, held_id: UUID, *, at: datetime) -> str:
    """What one of them says, and of whom; nothing where the actor does not decide it, or it is decided."""
    one = next((_held(row) for row in held_entries(actor, at=at).filter(pk=held_id)), None)
    return f"{one.what} ({one.person})" if one else ""


def refused_count(actor: Staff, *, at: datetime) -> int:
    """How much of what was refused the actor may see to."""
    return refused_entries(actor, at=at).count()


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


def _refused(row: RefusedEntry, *, again: bool) -> Aside:
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
        known=known_words(row.error),
        again=again,
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
        return {"what": told.head, "more": told.detail, "happened": happened_at(sent)}
    except (orjson.JSONDecodeError, KeyError, TypeError, ValueError, AttributeError):
        return {"what": _("An entry that cannot be read"), "more": "", "happened": None}
