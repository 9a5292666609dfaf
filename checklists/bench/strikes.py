"""What became of a change that was recorded wrongly: struck out, and what was recorded in its place."""

from __future__ import annotations

from collections.abc import Collection
from uuid import UUID

import orjson

from caseload.request.selectors import Asked
from checklists.person.settings import strike_words
from checklists.record.models import Entry, EntryContent


def struck_in(episodes: Collection[UUID]) -> dict[str, str]:
    """The ids of whatever was struck out in these episodes, with when, by whom and why. One statement."""
    rows = EntryContent.objects.filter(entry__kind="struck_out", entry__episode__in=episodes)
    said = ((orjson.loads(body), at, by) for body, at, by in rows.values_list("body", "entry__at", "entry__by__name"))
    return {fact["entry"]: strike_words(fact, at, by) for fact, at, by in said}


def put_right(requests: Collection[Asked]) -> dict[UUID, str]:
    """Of the changes that answered these requests those that were struck out, and what each was put right to. One
    statement, or three where one was struck out."""
    struck = struck_in({one.episode_id for one in requests})
    wrong = {one.entry for one in requests if one.entry and str(one.entry) in struck}
    return {**dict.fromkeys(wrong, ""), **_rights(wrong, struck)}


def _rights(wrong: Collection[UUID], struck: Collection[str]) -> dict[UUID, str]:
    """What stands in place of each struck change: the latest of the same setting as of the same instant."""
    if not wrong:
        return {}
    rows = list(EntryContent.objects.filter(entry__id__in=wrong).select_related("entry"))
    made = EntryContent.objects.filter(
        entry__kind="setting_changed",
        entry__episode__in={row.entry.episode_id for row in rows},
        entry__at__in={row.entry.at for row in rows},
    ).select_related("entry")
    stands = {
        _place(one.entry, body): body.get("to", "")
        for one in made.order_by("entry__number")
        if (body := orjson.loads(one.body))["id"] not in struck
    }
    return {row.entry.id: stands.get(_place(row.entry, orjson.loads(row.body)), "") for row in rows}


def _place(entry: Entry, body: dict[str, str]) -> tuple[object, ...]:
    return entry.episode_id, entry.at, body["setting"], body.get("knee")
