"""A fall that was not reviewed in time, as its alert tells of it: once it is reviewed, nobody is asked for that."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime
from uuid import UUID

from django.utils.translation import gettext as _

from caseload.models import Episode
from checklists.person.settings import last_reviews, standing_of_all
from checklists.words.tables import worded
from clinic import access
from clinic.access import Action
from clinic.staff.models import Staff
from clinic.web.tags import moment


@dataclass(frozen=True, slots=True)
class Reviewed:
    """When a fall was reviewed, by whom, and with what outcome."""

    at: datetime
    by: str
    outcome: str


def reviews_of(falls: Mapping[UUID, UUID]) -> dict[UUID, Reviewed]:
    """The last review of each of these falls, each given with its episode. One statement; none where there are none."""
    rows = standing_of_all(set(falls.values()), ("review",))
    last = last_reviews(row for of_one in rows.values() for row in of_one)
    found = {fall: last[str(fall)] for fall in falls if str(fall) in last}
    return {fall: Reviewed(at, by, fact["outcome"]) for fall, (fact, at, by) in found.items()}


def theirs_to_review(actor: Staff, episodes: Iterable[UUID], *, at: datetime) -> set[UUID]:
    """Those of them whose falls are the actor's to review. One statement; none where there are none."""
    rows = Episode.objects.filter(pk__in=list(episodes))
    return set(access.scoped(actor, Action.REVIEW_FALL, rows, at=at).values_list("pk", flat=True))


def reviewed_words(seen: Reviewed) -> str:
    """What is left to do once the review is recorded: the answer."""
    words = _("The fall was reviewed on {day} by {name}: {outcome}. What is left is the answer: say what was done.")
    return words.format(day=moment(seen.at), name=seen.by, outcome=worded(seen.outcome, "outcome"))
