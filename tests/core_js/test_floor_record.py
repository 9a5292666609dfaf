"""The Floor's state and advice as the server gives them from the database, and as a tablet tells them from bodies."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import orjson
import pytest

from caseload.models import Episode
from checklists.floor.advice import advice_for
from checklists.floor.state import floor_state
from checklists.models import EntryContent
from clinic.staff.models import Staff
from tests.core_js.differing import differences
from tests.core_js.floor_questions import History, Moment, Tablet, a_tablet
from tests.makers import (
    a_check,
    a_fall,
    a_therapist,
    ago,
    an_assistant,
    an_attempt,
    an_entry,
    an_episode,
    now,
    recorded,
)

pytestmark = pytest.mark.django_db


@pytest.fixture(scope="module")
def tablet() -> Iterator[Tablet]:
    with a_tablet() as process:
        yield process


def told(tablet: Tablet, episode: Episode, actor: Staff, moment: Moment) -> dict[str, Any]:
    """What the tablet tells from the entries of the record in the order of reception and everybody's names."""
    rows = EntryContent.objects.filter(entry__episode=episode).order_by("entry__number").values_list("body", flat=True)
    names = dict(Staff.objects.values_list("reference", "name"))
    document = orjson.loads(episode.head.protocol.document)
    history = History(document, [orjson.loads(body) for body in rows], names)
    (found,) = tablet.answers(history, [moment], by=actor.reference)
    return found


@pytest.mark.parametrize("side", ["left", "both"])
def test_the_tablet_tells_what_the_server_tells(tablet: Tablet, side: str) -> None:
    therapist, helper = a_therapist(name="Runa Achterling"), an_assistant(name="$& O\u2019Quill")
    episode = an_episode(assigned_to=therapist, side=side)
    wrong, mistaken = an_attempt(at=ago(minutes=9)), an_entry("near_miss", at=ago(minutes=8))
    days_ago = [an_attempt(at=ago(days=days)) for days in (9, 8, 7)]
    start = [an_entry("session_opened", at=ago(minutes=20)), a_check(at=ago(minutes=19))]
    seen = [
        an_attempt("stand_load", at=ago(minutes=7), help="hands_on"),
        an_attempt(at=ago(minutes=6), result="unsafe"),
    ]
    recorded(therapist, episode, *days_ago, a_fall(at=ago(days=6)), *start, wrong, mistaken)
    strike = an_entry("struck_out", entry=wrong["id"], reason="Wrong skill", at=ago(minutes=5))
    verdicts = recorded(therapist, episode, *seen, strike)
    assert [one.outcome for one in verdicts.verdicts] == ["accepted"] * 3
    at, zone = now(), episode.site.time_zone
    episode.head.refresh_from_db()
    pending = [an_entry("mode_set", mode="locked", at=ago(seconds=50)), an_attempt("nothing", at=ago(seconds=40))]
    state = orjson.loads(orjson.dumps(floor_state(episode, at=at)))
    mine = told(tablet, episode, helper, Moment(at, zone, role=helper.stamped_role(at.date())))
    assert differences({**state, "now": None}, {**mine["state"], "now": None})[:5] == []
    assert len(state["facts"]) >= 4
    assert any(fact["struck"] for fact in state["facts"])
    mine = told(tablet, episode, helper, Moment(at, zone, helper.stamped_role(at.date()), pending))
    for skill, advice in mine["advice"].items():
        wanted = orjson.loads(orjson.dumps(advice_for(episode, helper, skill, pending, at=at)))
        assert differences(wanted, advice, skill)[:5] == []
