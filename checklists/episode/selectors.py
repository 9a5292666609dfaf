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
from checklists.person.settings import falls
from checklists.record.models import Head


def falls_to_review(plan: Plan) -> list[tuple[str, str]]:
    """The falls that nobody has cleared yet, newest first, as (id, words)."""
    return [
        (
            fall.entry,
            ", ".join(
                filter(
                    None,
                    [instant_words(fall.at, plan.zone), fall.skill, _("injury: {injury}").format(injury=fall.injury)],
                )
            ),
        )
        for fall in falls(plan.episode_id)
        if fall.waits
    ]


def closing_breaks(plan: Plan, episode_id: UUID, *, at: datetime) -> tuple[Broken, ...]:
    """The rules that closing the episode now would break, by the same core that judges it; none where all is well."""
    head = Head.objects.select_related("episode__site").filter(episode_id=episode_id).first()
    if head is None:
        return ()
    return fold_of(head).advise({"kind": "episode_closed"}, at=at.astimezone(ZoneInfo(plan.zone))).breaks
