"""The latest changes of all knees in reach, newest first, with what was changed and by whom."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from uuid import UUID

import orjson
from django.utils.translation import gettext as _

from checklists.bench.strikes import struck_in
from checklists.floor.words import SETTING
from checklists.person.facts import fitted
from checklists.record.models import Entry
from checklists.words.tables import worded
from clinic import access
from clinic.access import Action
from clinic.staff.models import Staff


@dataclass(frozen=True, slots=True)
class Made:
    """A change that was made."""

    episode_id: UUID
    person: str
    at: datetime
    what: str
    by: str
    struck: str  # when, by whom and why; nothing where it holds


def recent_changes(actor: Staff, *, at: datetime, most: int = 30) -> list[Made]:
    """The latest settings and components changed. Two statements."""
    rows = Entry.objects.filter(kind="setting_changed").select_related("content", "by", "episode__person")
    seen = access.scoped(actor, Action.SEE_PERSON, rows, at=at).order_by("-at", "-number")[:most]
    struck = struck_in({row.episode_id for row in seen})
    return [_made(row, struck) for row in seen]


def _made(row: Entry, struck: Mapping[str, str]) -> Made:
    body = orjson.loads(row.content.body)
    was, now = body.get("from", ""), body.get("to", "")
    values = _("{was} to {now}").format(was=was, now=now) if was and now else now or was
    knee = f"{worded(body['knee'], 'knee')}, " if body.get("knee") else ""
    changed = f"{SETTING[body['setting']].lower()}{f': {values}' if values else ''}"
    what = f"{knee}{fitted(body) or changed}"
    what = what[:1].upper() + what[1:]
    return Made(row.episode_id, row.episode.person.full_name, row.at, what, row.by.name, struck.get(body["id"], ""))
