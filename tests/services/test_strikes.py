"""What a page offers to strike out is what the write path takes: kind by kind, for each role."""

from __future__ import annotations

from typing import Any

import pytest

from caseload.models import Episode
from checklists.record.reception import strikes
from clinic import access, clock
from clinic.staff.models import Staff
from clinic.staff.roles import Role
from tests.makers import (
    a_check,
    a_fall,
    a_staff,
    a_therapist,
    ago,
    an_attempt,
    an_entry,
    an_episode,
    imported,
    recorded,
)

pytestmark = pytest.mark.django_db
ROLES = [Role.THERAPIST, Role.ASSISTANT, Role.PROSTHETIST, Role.CLINIC_LEAD]


def facts() -> dict[str, dict[str, Any]]:
    """One of each kind that stands in a record and can be struck out, by what a page calls it."""
    settings = ("resistance", "alignment", "socket", "foot", "footwear")
    return {
        "attempt": an_attempt("stand_load", at=ago(minutes=9)),
        "check": a_check(at=ago(minutes=10)),
        "mode_set": an_entry("mode_set", mode="walking", at=ago(minutes=8)),
        "mode_checked": an_entry("mode_checked", mode="walking", ok=True, at=ago(minutes=7)),
        "fall": a_fall(at=ago(minutes=6)),
        "near_miss": an_entry("near_miss", at=ago(minutes=5)),
        "session_opened": an_entry("session_opened", at=ago(minutes=11)),
        "session_closed": an_entry("session_closed", at=ago(minutes=4)),
        "review": an_entry("review", at=ago(minutes=3)),
        **{
            f"setting_changed:{setting}": an_entry("setting_changed", setting=setting, to="5", at=ago(minutes=2))
            for setting in settings
        },
        "setting_changed:knee": an_entry("setting_changed", setting="knee", features=[], at=ago(minutes=1)),
    }


def somebody(role: Role, carrier: Staff) -> Staff:
    return carrier if role == Role.THERAPIST else a_staff(role)


@pytest.mark.parametrize("role", ROLES)
def test_what_is_offered_is_what_is_taken(role: Role) -> None:
    carrier = a_therapist()
    episode: Episode = an_episode(assigned_to=carrier)
    told, actor = facts(), somebody(role, carrier)
    imported(carrier, episode, *[{**fact, "by": carrier.reference} for fact in told.values()])
    offered = strikes(lambda action: access.reach(actor, action, clock.now()) is not None)
    strokes = {
        name: recorded(actor, episode, an_entry("struck_out", entry=fact["id"], reason="Tapped by mistake."))
        for name, fact in told.items()
    }
    taken = [name for name, stroke in strokes.items() if stroke.verdicts[0].outcome != "refused"]
    assert sorted(offered) == sorted(taken)
    assert taken, "somebody who records may strike something out"
    if role in (Role.THERAPIST, Role.ASSISTANT):
        assert "setting_changed:knee" not in offered
        assert "setting_changed:footwear" in offered
