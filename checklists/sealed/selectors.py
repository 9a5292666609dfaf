"""The sealed marks that wait for somebody, opened and in words."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any
from uuid import UUID

from django.db.models import Count, Min
from django.utils.translation import gettext as _

from caseload.models import Episode
from checklists.person.facts import Told, happened_at, tell
from checklists.person.heads import names_in
from checklists.sealed.models import SealedMark
from checklists.sealed.reading import content_for
from clinic import access
from clinic.access import Action
from clinic.access.standing import beyond
from clinic.errors import NotFound
from clinic.staff.models import Staff

MOST = 200


@dataclass(frozen=True, slots=True)
class Waiting:
    """One mark. `happened_at` and `what` are None where it cannot be read; `person` is empty where they are not the
    reader's to see."""

    id: UUID
    episode_id: UUID | None
    person: str
    number: str
    happened_at: datetime | None
    what: Told | None
    brought_by: str
    brought_at: datetime
    error: str

    @property
    def may_be_recorded(self) -> bool:
        """Whether there is something to record, and somebody to record it of."""
        return self.what is not None and self.person != ""


def count_waiting(actor: Staff) -> int:
    """How many wait for the actor."""
    return SealedMark.objects.filter(author=actor, settled_at__isnull=True).count()


@dataclass(frozen=True, slots=True)
class Author:
    """Somebody for whom sealed marks wait: how many, and since when the oldest does. Nothing of what they say."""

    staff_id: UUID
    name: str
    many: int
    since: datetime


def waiting_by_author(actor: Staff, *, at: datetime) -> list[Author]:
    """For whom sealed marks wait, the longest first: for whoever keeps the tablets. One statement."""
    access.permit(actor, Action.MANAGE_TABLETS, at)
    rows = SealedMark.objects.filter(settled_at__isnull=True).values("author_id", "author__name")
    counted = rows.annotate(many=Count("pk"), since=Min("brought_at")).order_by("since", "author__name", "author_id")
    with beyond("how many marks wait for whom and since when, and nothing that is in them"):
        return [Author(row["author_id"], row["author__name"], row["many"], row["since"]) for row in counted]


def names_of(actor: Staff, references: Iterable[str], *, at: datetime) -> dict[str, str]:
    """Whose marks these are, by their references: said to whoever reads for whom marks wait, and to nobody else."""
    if access.reach(actor, Action.MANAGE_TABLETS, at) is None:
        return {}
    return names_in((), references)


def own_mark(actor: Staff, mark_id: UUID) -> SealedMark:
    """One of the actor's own, settled or not; anybody else's is not there."""
    row = SealedMark.objects.filter(author=actor, pk=mark_id).first()
    if row is None:
        raise NotFound(_("There is no such mark."))
    return row


def waiting(actor: Staff, *, at: datetime) -> list[Waiting]:
    """What waits for the actor, in the order in which it happened; what cannot be read last."""
    rows = SealedMark.objects.filter(author=actor, settled_at__isnull=True).select_related("brought_by")
    found = list(rows.order_by("brought_at", "pk")[:MOST])
    wanted = Episode.objects.filter(pk__in={row.episode_id for row in found if row.episode_id})
    seen = {one.pk: one for one in access.scoped(actor, Action.SEE_PERSON, wanted, at=at).select_related("person")}
    told = [_told(actor, row, seen) for row in found]
    return sorted(told, key=lambda one: (one.happened_at is None, one.happened_at or one.brought_at))


def _told(actor: Staff, row: SealedMark, seen: Mapping[UUID, Episode]) -> Waiting:
    content = content_for(actor, row)
    episode = seen.get(row.episode_id) if row.episode_id else None
    return Waiting(
        id=row.pk,
        episode_id=row.episode_id,
        person=episode.person.full_name if episode else "",
        number=episode.person.number if episode else "",
        happened_at=happened_at(content.entry) if content else None,
        what=_in_words(content.entry) if content else None,
        brought_by=row.brought_by.name,
        brought_at=row.brought_at,
        error=row.error,
    )


def _in_words(entry: Mapping[str, Any]) -> Told | None:
    """What it says; nothing where whoever made it did not write a mark as tablets do."""
    try:
        return tell(entry)
    except (KeyError, TypeError, ValueError, AttributeError):
        return None


def ids_of(sent: Sequence[str]) -> list[UUID]:
    """The ids among what a form sent."""
    found = []
    for text in sent:
        try:
            found.append(UUID(text))
        except ValueError:
            continue
    return found
