"""What a reference means: the id of a sign-off's entry, or the reference or id of an episode."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from uuid import UUID

from django.utils.translation import gettext as _

from caseload.episode.models import Episode
from checklists.record.models import Entry
from clinic import access
from clinic.access import Action
from clinic.errors import Invalid, NotFound
from clinic.staff.models import Staff


@dataclass(frozen=True, slots=True)
class Found:
    """The episode, and the sign-off's entry where the bundle is about one."""

    episode: Episode
    sign_off: Entry | None = None


def found(actor: Staff | None, reference: str, *, at: datetime) -> Found:
    """The episode or sign-off of this reference, if the actor may give it out (nobody: the command on the server)."""
    wanted = reference.strip()
    try:
        return _by_id(UUID(wanted), actor, at)
    except ValueError:
        return Found(_episode(actor, at, reference__iexact=wanted, said=wanted))


def _by_id(wanted: UUID, actor: Staff | None, at: datetime) -> Found:
    entry = Entry.objects.filter(id=wanted).first()
    if entry is None:
        return Found(_episode(actor, at, pk=wanted, said=str(wanted)))
    episode = _episode(actor, at, pk=entry.episode_id, said=str(wanted))
    if entry.kind != "sign_off":
        kind = entry.kind.replace("_", " ")
        raise Invalid(
            _(
                "Entry {wanted} is no sign-off ({kind}). Give the id of one, or {reference} for the whole episode."
            ).format(wanted=wanted, kind=kind, reference=episode.reference)
        )
    return Found(episode, entry)


def _episode(actor: Staff | None, at: datetime, *, said: str, **lookup: object) -> Episode:
    rows = Episode.objects.select_related("person")
    if actor is not None:
        rows = access.scoped(actor, Action.EXPORT_RECORD, rows, at=at)
    episode = rows.filter(**lookup).first()
    if episode is None:
        raise NotFound(
            _(
                "There is no sign-off and no episode '{said}'. Give the id of a sign-off's entry, or the "
                "reference (as E26-0001) or the id of an episode."
            ).format(said=said[:80])
        )
    return episode
