"""Inner step: a change becomes a fact of the record, and answers the request that asked for it. It opens no
transaction."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from uuid import UUID, uuid4

from django.utils.translation import gettext as _

from caseload.episode.closed import unless_closed
from caseload.request.models import CHANGED_TO, RequestState
from caseload.request.steps import answer, open_request
from checklists.bench.cost import unless_as_shown
from checklists.record.models import Entry, Head
from checklists.record.one import fact, happened, write_one
from checklists.record.verdict import Recorded
from clinic.access import Action
from clinic.errors import Invalid
from clinic.staff.models import Staff


@dataclass(frozen=True, slots=True)
class Written:
    """The fact that a service wrote, and what followed from it. `again`: it had been written before."""

    entry: UUID
    recorded: Recorded
    again: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Told:
    """A change as it is told: see `change_setting`."""

    setting: str
    to: str
    before: str = ""
    features: Sequence[str] | None = None
    knee: str | None = None
    note: str = ""
    entry_id: UUID | None = None
    request_id: UUID | None = None
    version: int = 0
    made: datetime | None = None
    shown: str | None = None


def locked(episode_id: UUID) -> Head | None:
    """The head of an episode, locked, with its episode, person and site; nothing where it has not begun."""
    rows = Head.objects.select_for_update(no_key=True, of=("self",))
    return rows.select_related("episode__site", "episode__person").filter(pk=episode_id).first()


def record_change(actor: Staff, episode_id: UUID, told: Told, *, at: datetime) -> Written:
    """Write the fact, and answer the request unless the fact waits for a clinic lead."""
    entry_id = told.entry_id or uuid4()
    head = locked(episode_id)  # nothing: not theirs, or not begun; the write path says which
    known = Entry.objects.filter(id=entry_id, episode_id=episode_id).exists()
    request = None
    if told.request_id and not known:
        request = open_request(actor, Action.ANSWER_ADJUSTMENT, told.request_id, told.version, at=at)
        if request.episode_id != episode_id:
            raise Invalid(_("That request is about somebody else."), reasons=["request: another episode's"])
    if head is not None and not known:
        _unless_it_stands_otherwise(head, told, at)
    change = fact(
        "setting_changed",
        happened(entry_id, episode_id, told.made or at),
        id_=entry_id,
        setting=told.setting,
        from_=told.before.strip(),
        to=told.to.strip(),
        features=list(told.features) if told.features is not None else None,
        knee=told.knee,
        note=told.note.strip(),
    )
    recorded = write_one(actor, episode_id, change, at=at, permitted=False, may_wait=told.made is not None)
    if request is not None and not recorded.waits:
        to, note = told.to.strip(), told.note.strip()
        said = ". ".join(filter(None, (CHANGED_TO.format(value=to) if to else "", note)))
        answer(request, RequestState.DONE, actor=actor, at=at, text=said, entry=entry_id)
    return Written(entry_id, recorded, known)


def _unless_it_stands_otherwise(head: Head, told: Told, at: datetime) -> None:
    """The episode of this locked head is open, the change lies behind us, and it costs what was shown."""
    unless_closed(head.episode)
    if told.made is not None and told.made > at:
        raise Invalid(_("That lies ahead. Say when it was made."), reasons=["made: to come"])
    if told.shown is not None:
        unless_as_shown(head, told.setting, told.shown, at=at, made=told.made)
