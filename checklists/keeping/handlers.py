"""What the worker does with this room's news, and from time to time. Every handler may be called twice for one row."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from typing import Any
from uuid import UUID

from checklists.alerts import recipients
from checklists.alerts.models import Severity
from checklists.alerts.notices import News, tell
from checklists.keeping import erased_list, giving

Payload = Mapping[str, Any]


def tell_asked(payload: Payload, at: datetime) -> None:
    """Somebody says that the record is wrong: the leads hear of it."""
    request, episode = payload["request"], UUID(payload["episode"])
    news = News("correction.asked", Severity.MINOR, f"correction.asked:{request}", request, episode)
    tell(news, recipients.leads(at), at)


def make_archive(payload: Payload, at: datetime) -> None:
    """Somebody asked for a person's archive."""
    giving.make_asked(UUID(payload["archive"]), at)


def keep_house(at: datetime) -> int:
    """Archives that nobody took go; the list of erasures outside the database is brought up to date."""
    erased_list.keep()
    return giving.drop_waiting(at)
