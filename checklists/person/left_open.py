"""What is open with a person whatever else is signed or printed, told to whoever signs or gives them their page."""

from __future__ import annotations

from datetime import datetime
from uuid import UUID

from django.utils.translation import ngettext

from checklists.alerts.selectors import critical_waiting
from checklists.person.first import first_lines
from checklists.person.heads import Standing
from checklists.person.selectors import knees_of
from checklists.pictures.knee import knee_words
from checklists.words import said
from clinic.staff.models import Staff


def left_open(actor: Staff, standing: Standing, episode_id: UUID, *, at: datetime) -> list[str]:
    """Critical alerts without an answer, a knee that is not proven to walk on, and what must be checked before
    anything; but for the check of a session, which begins one."""
    waiting = critical_waiting(actor, at=at).filter(episode_id=episode_id).values("entry").distinct().count()
    told = ngettext("{n} critical alert waits for an answer.", "{n} critical alerts wait for an answer.", waiting)
    first = [one for one in standing.board.get("check_first", ()) if one["key"] != "start_check"]
    knees = [knee for knee in knees_of(standing) if (knee.mode, knee.proof) != ("walking", "proven")]
    lines = [f"{knee_words(knee.mode, knee.proof)}." for knee in knees if knee.mode != "unknown"]
    return [*([told.format(n=waiting)] if waiting else []), *lines, *map(said, first_lines(first))]
