"""The plan of one person, put together for its page."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from uuid import UUID

from caseload.assignment.selectors import hands, who_moves
from caseload.episode.selectors import Plan, plan
from caseload.person.selectors import person_file
from caseload.prosthesis.recorded import recorded
from caseload.prosthesis.selectors import devices, free_sides
from caseload.request.selectors import requests_of_episode
from caseload.request.worth import answered
from caseload.review.held import with_held
from caseload.review.selectors import reviews_of_episode
from caseload.visit.selectors import Planned, visits_of_episode
from clinic import access
from clinic.access import Action
from clinic.staff.models import Staff

OFFERED = (
    *(Action.EDIT_PERSON, Action.PLAN_VISIT, Action.RECORD, Action.PLAN_REVIEW, Action.ASK_ADJUSTMENT),
    *(Action.PAUSE_EPISODE, Action.ASSIGN, Action.ARRANGE_COVER, Action.KEEP_DEVICES, Action.REVIEW_FALL),
    Action.CLOSE_EPISODE,
)


def plan_page(actor: Staff, episode_id: UUID, *, at: datetime) -> dict[str, object]:
    """Everything that is planned for a person, and what the reader may do about it."""
    head, registered = plan(actor, episode_id, at=at), devices(actor, episode_id, at=at)
    reviews, held = with_held(reviews_of_episode(actor, episode_id, at=at), episode_id, head.zone)
    facts = recorded(episode_id, registered, head.zone)
    return {
        "plan": head,
        "at": at,
        "file": person_file(actor, head.person_id, at=at),
        "hands": hands(actor, episode_id, at=at),
        "movers": () if head.closed_at else who_moves(actor, head.site_id, at=at),
        "visits": _coming_first(visits_of_episode(actor, episode_id, at=at), at),
        "reviews": reviews,
        "held": held,
        "requests": answered(requests_of_episode(actor, episode_id, at=at)),
        "devices": [(one, facts.lacks.get(one.prosthesis_id), facts.apart(one)) for one in registered],
        "free_sides": free_sides(head.side, registered),
        "may": {str(action): _offered(head, actor, action, at) for action in OFFERED},
    }


def _offered(head: Plan, actor: Staff, action: Action, at: datetime) -> bool:
    """What is closed is read: nothing of it is changed here."""
    return head.closed_at is None and access.reach(actor, action, at) is not None


def _coming_first(visits: Sequence[Planned], at: datetime) -> list[Planned]:
    """What comes, soonest first; then what was, newest first."""
    coming = [visit for visit in visits if visit.starts_at >= at]
    return [*coming, *reversed([visit for visit in visits if visit.starts_at < at])]
