"""What the pages about one request for correction show of the person and of the entry in question."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from urllib.parse import urlencode
from uuid import UUID

import orjson
from django.db import transaction
from django.urls import reverse
from django.utils.translation import gettext as _

from caseload.looked.steps import looked
from caseload.models import Episode
from caseload.person.erased import unless_erased
from caseload.words import day_words
from checklists.keeping.corrections import Correction, corrections_of
from checklists.person.facts import Told, tell
from checklists.record.models import EntryContent
from clinic import access, clock
from clinic.access import Action
from clinic.errors import NotFound
from clinic.staff.models import Staff

MOST = 20


@dataclass(frozen=True, slots=True)
class Entry:
    """The entry in question, in words."""

    id: UUID
    at: datetime
    told: Told
    by: str
    struck: bool
    setting: str = ""  # of a change of a setting or component
    side: str = ""  # of which prosthesis, where there are two


@dataclass(frozen=True, slots=True)
class About:
    """Whose record, and which entry of it, if one is named."""

    episode_id: UUID
    person_id: UUID
    whose: str
    entry: Entry | None
    closed: bool


def about(actor: Staff, action: Action, episode_id: UUID, entry: str, *, at: datetime) -> About:
    """Whose record this is, for whoever may do this. An entry that is not in it is none."""
    rows = Episode.objects.select_related("person__site")
    episode = access.get(actor, action, rows, at=at, pk=episode_id)
    person = unless_erased(episode.person)
    born = _("born {day}").format(day=day_words(person.born_on))
    whose = f"{person.full_name} · {born} · {person.number} · {person.second_identifier}"
    return About(episode.pk, person.pk, whose, _entry(episode_id, entry), episode.closed_at is not None)


def _entry(episode_id: UUID, text: str) -> Entry | None:
    try:
        key = UUID(text)
    except ValueError:
        return None
    rows = EntryContent.objects.filter(entry__episode=episode_id)
    row = rows.filter(entry__id=key).exclude(entry__kind="struck_out").select_related("entry__by").first()
    if row is None:
        return None
    strikes = rows.filter(entry__kind="struck_out").values_list("body", flat=True)
    struck = any(orjson.loads(body)["entry"] == str(key) for body in strikes)
    fact = orjson.loads(row.body)
    setting, side = fact.get("setting", ""), fact.get("knee", "")
    return Entry(key, row.entry.at, tell(fact), row.entry.by.name, struck, setting, side)


def right_one(actor: Staff, found: About, *, at: datetime) -> str:
    """Where the right setting is recorded, as of the same instant, in place of one that is struck out; nothing where
    it is not a setting, not theirs to set, or the episode has ended."""
    entry = found.entry
    if entry is None or not entry.setting or found.closed or not access.reach(actor, Action.ANSWER_ADJUSTMENT, at):
        return ""
    side = {"side": entry.side} if entry.side else {}
    asked = urlencode({"setting": entry.setting, "made": entry.at.isoformat(), **side})
    return f"{reverse('bench_person', args=[found.episode_id])}?{asked}"


def entered_again(actor: Staff, episode_id: UUID, entry: UUID, *, setting: bool, closed: bool, at: datetime) -> str:
    """Where the right one is entered in place of what was struck out, its day and time filled in; nothing where that is
    not the actor's to do, or a setting, which has a page of its own. No statement."""
    if setting or closed or access.reach(actor, Action.RECORD, at) is None:
        return ""
    return f"{reverse('paper_enter', args=[episode_id])}?again={entry}"


def request_in(episode_id: UUID, request_id: UUID) -> Correction:
    """A request; NotFound where there is none."""
    for one in corrections_of([episode_id]).get(episode_id, ()):
        if one.entry == request_id:
            return one
    raise NotFound(_("Nobody asked for this here. Check the link."))


def recorded_since(request: Correction) -> Sequence[tuple[str, str, str]]:
    """What was recorded after a request came in, newest first: id, kind, words."""
    rows = EntryContent.objects.filter(
        entry__episode=request.episode_id, entry__received_at__gt=_received(request.entry)
    )
    kinds = ("correction_requested", "correction_answered")
    found = rows.exclude(entry__kind__in=kinds).select_related("entry__by").order_by("-entry__number")[:MOST]
    return [(str(row.pk), row.entry.kind, _words(row)) for row in found]


def _received(entry: UUID) -> datetime:
    return EntryContent.objects.values_list("entry__received_at", flat=True).get(entry__id=entry)


def _words(row: EntryContent) -> str:
    told = tell(orjson.loads(row.body))
    return " · ".join(filter(None, (told.head, told.detail, row.entry.by.name)))


@transaction.atomic(durable=True)
def note_opened(*, actor: Staff, episode_id: UUID, page: str, action: Action = Action.ASK_CORRECTION) -> None:
    """Leave a trail row: something of this person's record was looked at, to have it corrected or to do this."""
    looked(actor, "person.opened", episode_id, at=clock.now(), detail={"page": page}, action=action)
