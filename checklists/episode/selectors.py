"""What must be known before a review is recorded or an episode closed."""

from __future__ import annotations

from datetime import datetime
from uuid import UUID
from zoneinfo import ZoneInfo

from django.utils.translation import gettext as _

from caseload.episode.selectors import Plan
from caseload.words import instant_words
from checklists.domain.advice import Broken
from checklists.person.heads import fold_of
from checklists.person.settings import Fell, falls
from checklists.record.models import Head


def falls_to_review(plan: Plan) -> list[tuple[str, str]]:
    """The falls that nobody has cleared yet, newest first, as (id, lines): when and what, what happened and what was
    done at once as the timeline tells it, and who recorded it."""
    return [(fall.entry, _lines(fall, plan.zone)) for fall in falls(plan.episode_id) if fall.waits]


def _lines(fall: Fell, zone: str) -> str:
    head = f"{instant_words(fall.at, zone)} · {fall.told.head}"
    told = fall.told.detail or _("What happened and what was done is not written down.")
    return "\n".join(filter(None, (head, told, fall.note, _("Recorded by {name}").format(name=fall.by))))


def closing_breaks(plan: Plan, episode_id: UUID, *, at: datetime) -> tuple[Broken, ...]:
    """The rules that closing the episode now would break, by the same core that judges it; none where all is well."""
    head = Head.objects.select_related("episode__site").filter(episode_id=episode_id).first()
    if head is None:
        return ()
    return fold_of(head).advise({"kind": "episode_closed"}, at=at.astimezone(ZoneInfo(plan.zone))).breaks
