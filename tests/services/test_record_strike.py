"""Who strikes what out: whoever could have recorded it, and a clinic lead anything."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any
from uuid import UUID

import pytest

from caseload.models import Episode
from checklists.models import Entry
from checklists.record.services import move_entries
from clinic.errors import Denied
from clinic.staff.models import Staff
from clinic.staff.roles import Role
from tests.makers import (
    a_check,
    a_fall,
    a_lead,
    a_prosthetist,
    a_staff,
    a_therapist,
    ago,
    an_assistant,
    an_attempt,
    an_entry,
    an_episode,
    imported,
    recorded,
)

pytestmark = pytest.mark.django_db


def fact_of(kind: str, by: Staff, episode: Episode) -> str:
    """The id of a fact of this kind that stands in the record."""
    if kind == "episode_opened":
        return str(Entry.objects.get(episode=episode, kind=kind).id)
    at = ago(days=2)
    made: dict[str, Callable[[], dict[str, Any]]] = {
        "attempt": lambda: an_attempt("don_check", "none", at=at, by=by),
        "check": lambda: a_check(at=at, by=by),
        "fall": lambda: a_fall(at=at, by=by),
        "review": lambda: an_entry("review", at=at, by=by),
        "setting_changed": lambda: an_entry("setting_changed", at=at, by=by, setting="resistance"),
        "footwear": lambda: an_entry("setting_changed", at=at, by=by, setting="footwear"),
        "sign_off": lambda: an_entry("sign_off", at=at, by=by, skill="don_check"),
        "sign_off_withdrawn": lambda: an_entry("sign_off_withdrawn", at=at, by=by, skill="don_check"),
        "episode_closed": lambda: an_entry("episode_closed", at=at, by=by),
    }
    fact = made[kind]()
    imported(by, episode, fact)
    return str(fact["id"])


GYM = ("attempt", "check", "fall", "review", "setting_changed", "footwear", "sign_off", "sign_off_withdrawn")
EVERY = (*GYM, "episode_closed", "episode_opened")
ALLOWED = {
    Role.CLINIC_LEAD: set(EVERY),
    Role.THERAPIST: set(EVERY) - {"setting_changed"},
    Role.ASSISTANT: {"attempt", "check", "fall", "footwear"},
    Role.PROSTHETIST: {"check", "setting_changed", "footwear"},
}
MAKERS = {
    Role.CLINIC_LEAD: a_lead,
    Role.THERAPIST: a_therapist,
    Role.ASSISTANT: an_assistant,
    Role.PROSTHETIST: a_prosthetist,
}


@pytest.mark.parametrize("kind", EVERY)
@pytest.mark.parametrize("role", list(MAKERS))
def test_nobody_undoes_what_their_role_may_not_record(role: Any, kind: Any) -> None:
    actor, therapist = MAKERS[role](), a_therapist()
    episode = an_episode(assigned_to=actor if role == Role.THERAPIST else therapist)
    strike = an_entry("struck_out", entry=fact_of(kind, therapist, episode), reason="a mistake")
    outcome = recorded(actor, episode, strike).verdicts[0].outcome
    assert outcome == ("accepted" if kind in ALLOWED[role] else "refused")
    assert Entry.objects.filter(id=strike["id"]).exists() is (kind in ALLOWED[role])


def test_what_is_sent_together_is_struck_out_by_the_same_rule() -> None:
    assistant = an_assistant()
    episode = an_episode()
    attempt = an_attempt(at=ago(minutes=2))
    strike = an_entry("struck_out", entry=attempt["id"], reason="twice")
    assert recorded(assistant, episode, attempt, strike).outcomes() == {"accepted": 2}


def test_whoever_moves_a_fact_must_be_allowed_to_record_it_on_either_side() -> None:
    actor = a_staff(Role.ASSISTANT, Role.THERAPIST)
    theirs, colleagues = an_episode(assigned_to=actor), an_episode()
    review = fact_of("review", a_therapist(), colleagues)
    with pytest.raises(Denied):
        move_entries(
            actor=actor,
            from_episode=colleagues.pk,
            to_episode=theirs.pk,
            entry_ids=[UUID(review)],
            reason="names alike",
        )
    assert not Entry.objects.filter(kind="struck_out").exists()
