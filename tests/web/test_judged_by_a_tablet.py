"""From the tablet's own core to the page of a lead: pack, facts, what was said of them, arrival, the case.

The tablet is the programme's `floor/local.js`, in Node; the server is asked as the tablet asks it.
"""

from __future__ import annotations

import io
import json
import zipfile
from collections.abc import Callable
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest
from django.test import Client
from rest_framework.test import APIClient

from caseload.models import Episode
from checklists.judged.models import Difference, Outcome, Tally
from clinic.outbox.drain import drain
from clinic.outbox.models import OutboxRow
from clinic.staff.models import RoleTerm, Staff
from clinic.staff.roles import Role
from clinic.watch.models import Alarm
from tests.api.conftest import calling
from tests.core_js.tablet import judged, spoilt
from tests.makers import a_check, a_lead, a_therapist, ago, an_attempt, an_entry, an_episode, now, recorded

__all__ = ["calling"]
pytestmark = pytest.mark.django_db
Calling = Callable[[Staff], APIClient]
BREAKS = {"skill": "stair_down", "support": "ipsilateral_rail"}


@pytest.fixture
def therapist() -> Staff:
    return a_therapist(name="Runa Achterling")


@pytest.fixture
def episode(therapist: Staff) -> Episode:
    made = an_episode(assigned_to=therapist)
    recorded(therapist, made, a_check(at=ago(minutes=20)), an_attempt(at=ago(minutes=15)))
    return made


@pytest.fixture
def tablet(calling: Calling, therapist: Staff) -> APIClient:
    return calling(therapist)


def packed(tablet: APIClient, episode: Episode) -> dict[str, Any]:
    answer = tablet.get(f"/api/v1/episodes/{episode.pk}/pack/")
    assert answer.status_code == 200
    pack: dict[str, Any] = answer.json()
    return pack


def send(tablet: APIClient, episode: Episode, facts: list[dict[str, Any]], said: dict[str, Any]) -> dict[str, Any]:
    answer = tablet.post(f"/api/v1/episodes/{episode.pk}/entries/", {"entries": facts, "judged": said})
    assert answer.status_code == 200
    found: dict[str, Any] = answer.json()
    assert [one["outcome"] for one in found["verdicts"]] == ["accepted"] * len(facts)
    assert found["judged"] is None  # all of it could be read
    return found


def rules(said: dict[str, Any]) -> set[str]:
    return {rule for one in said.values() for rule, _, _ in one["alerts"]}


def tally() -> dict[str, int]:
    drain()
    return dict(Tally.objects.values_list("outcome", "many"))


def test_agreement_leaves_nothing(tablet: APIClient, therapist: Staff, episode: Episode) -> None:
    """What is judged by steps is settled on the way in; a strike-out and a late fact by the worker: the same."""
    facts = [an_attempt(at=ago(minutes=9 - number), **(BREAKS if number == 1 else {})) for number in range(3)]
    said = judged(packed(tablet, episode), therapist, *facts)
    assert rules(said) >= {"prerequisite"}
    found = send(tablet, episode, facts, said)
    assert {one["rule"] for one in found["raised"]} == rules(said)
    assert not OutboxRow.objects.filter(topic="judgement.doubted").exists()
    late = an_attempt("short_steps", "none", at=ago(minutes=12))
    hard = [an_entry("struck_out", entry=facts[1]["id"], reason="Wrong person"), late, an_attempt(**BREAKS, at=now())]
    again = judged(packed(tablet, episode), therapist, *hard)
    assert rules(again)
    send(tablet, episode, hard, again)
    assert tally() == {Outcome.SAME: 3}
    assert (Difference.objects.count(), Alarm.objects.count()) == (0, 0)


def test_a_core_with_one_rule_less_is_a_defect_with_its_case(
    tablet: APIClient, therapist: Staff, episode: Episode, enter: Callable[..., Client], tmp_path: Path
) -> None:
    facts = [an_attempt(at=ago(minutes=5)), an_attempt(**BREAKS, at=ago(minutes=4)), an_attempt(at=ago(minutes=3))]
    other = spoilt(tmp_path, "builtin.js", "[PREREQUISITE, missing]", "[PREREQUISITE, false]")
    said = judged(packed(tablet, episode), therapist, *facts, root=other)
    assert "prerequisite" not in rules(said)
    found = send(tablet, episode, facts, said)
    assert "prerequisite" in {one["rule"] for one in found["raised"]}  # the server's judgement stands
    assert tally() == {Outcome.DIFFERENT: 1}
    case = Difference.objects.get()
    assert str(case.entry) == facts[1]["id"]
    assert "prerequisite" in {rule for rule, _, _ in case.found}
    lead = enter(a_lead())
    page = lead.get("/judged/").content.decode()
    assert episode.reference in page
    assert "Runa Achterling" in page
    assert "/judged/" in lead.get("/watch/").content.decode()
    assert Alarm.objects.filter(kind="judgement.differed", settled_at=None).count() == 1
    with zipfile.ZipFile(io.BytesIO(lead.post(f"/judged/{case.pk}/take/").content)) as taken:
        ids = [json.loads(line)["id"] for line in taken.read("history.jsonl").splitlines()]
        told = json.loads(taken.read("case.json"))
    assert ids[-2:] == [facts[0]["id"], facts[1]["id"]]  # the record up to the entry
    assert told["tablet"]["alerts"] == sorted(said[facts[1]["id"]]["alerts"])


def test_a_role_that_changed_in_the_day_is_no_defect(tablet: APIClient, therapist: Staff, episode: Episode) -> None:
    """The tablet took it to be recorded under the role that it had heard of: another record, which is counted."""
    facts = [an_attempt(at=ago(minutes=3)), an_attempt(**BREAKS, at=ago(minutes=2))]
    said = judged(packed(tablet, episode), therapist, *facts)
    today = now().date()
    RoleTerm.objects.filter(staff=therapist).update(period=(today - timedelta(days=90), today))
    RoleTerm.objects.create(staff=therapist, role=Role.ASSISTANT, period=(today, None))
    found = send(tablet, episode, facts, said)
    assert {one["rule"] for one in found["raised"]} != rules(said)  # an assistant may not do all that a therapist may
    assert set(tally()) == {Outcome.OTHER_RECORD}
    assert (Difference.objects.count(), Alarm.objects.count()) == (0, 0)


def test_what_the_tablet_could_not_read_is_not_judged(tablet: APIClient, therapist: Staff, episode: Episode) -> None:
    """By its slow clock it has not happened yet: nothing was said of it, and what follows was judged without it."""
    facts = [an_attempt(at=ago(minutes=3)), an_attempt(**BREAKS, at=ago(hours=2))]
    said = judged(packed(tablet, episode), therapist, *facts, slow=timedelta(hours=1))
    assert list(said) == [facts[1]["id"]]
    assert said[facts[1]["id"]]["with"] == []
    said[facts[1]["id"]]["alerts"] = []
    send(tablet, episode, facts, said)
    assert tally() == {Outcome.OTHER_RECORD: 1}
    assert not Difference.objects.exists()
