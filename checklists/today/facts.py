"""The facts of one day of several people, in one statement."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from datetime import datetime, timedelta
from typing import Any
from uuid import UUID

import orjson

from checklists.floor.sessions import Session, sessions_of
from checklists.record.models import EntryContent

TOLD = ("session_opened", "session_closed", "attempt", "check", "struck_out")  # what a session is folded from


def sessions_of_day(episodes: Iterable[UUID], *, start: datetime) -> dict[UUID, list[Session]]:
    """The sessions of each person on the day that begins at `start`."""
    rows = EntryContent.objects.filter(entry__episode__in=list(episodes), entry__kind__in=TOLD)
    rows = rows.filter(entry__at__gte=start, entry__at__lt=start + timedelta(days=1))
    facts: dict[UUID, list[dict[str, Any]]] = defaultdict(list)
    for episode, body in rows.order_by("entry__at", "entry__number").values_list("entry__episode", "body"):
        facts[episode].append(orjson.loads(body))
    return {episode: sessions_of(found) for episode, found in facts.items()}
