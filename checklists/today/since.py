"""What changed since somebody's last session, for several people in one statement."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from datetime import datetime
from uuid import UUID

import orjson
from django.db.models import OuterRef, Subquery

from checklists.person.facts import tell
from checklists.record.models import EntryContent
from clinic.language import dates

TELLING = ("setting_changed", "fall", "near_miss", "review", "sign_off", "sign_off_withdrawn")


def since_last_time(episodes: Iterable[UUID], *, today: datetime) -> dict[UUID, list[str]]:
    """Settings, falls, reviews and signatures after the last attempt before `today`, when the local day began."""
    keys = list(episodes)
    attempts = EntryContent.objects.filter(
        entry__episode=OuterRef("entry__episode"), entry__kind="attempt", entry__at__lt=today
    )
    last = attempts.order_by("-entry__at").values("entry__at")[:1]
    rows = (
        EntryContent.objects.filter(entry__episode__in=keys, entry__kind__in=(*TELLING, "struck_out"))
        .annotate(last=Subquery(last))
        .order_by("entry__at", "entry__number")
        .values_list("entry__episode", "body", "last", "entry__at", "entry__by__name")
    )
    return _told(list(rows))


def _told(rows: list[tuple[UUID, str, datetime | None, datetime, str]]) -> dict[UUID, list[str]]:
    facts = [(episode, orjson.loads(body), last, at, by) for episode, body, last, at, by in rows]
    struck = {fact["entry"] for _, fact, *_ in facts if fact["kind"] == "struck_out"}
    told: dict[UUID, list[str]] = defaultdict(list)
    for episode, fact, last, at, by in facts:
        if fact["kind"] != "struck_out" and fact["id"] not in struck and (last is None or at > last):
            told[episode].append(f"{tell(fact).head}, {dates.day_of_year(at)} ({by})")
    return told
