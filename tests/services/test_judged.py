"""The server judges again what a tablet had judged: agreement costs nothing, another record is counted, a difference is
a defect that is kept as a case and raised."""

from __future__ import annotations

import io
import json
import subprocess
import zipfile
from pathlib import Path
from typing import Any

import orjson
import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from caseload.models import Episode
from checklists.judged.case import take_case
from checklists.judged.models import Difference, Outcome, Tally
from checklists.judged.selectors import differences_page
from checklists.models import EntryContent
from checklists.record import protocols
from checklists.record.services import record_entries
from clinic.audit.models import TrailRow
from clinic.errors import Conflict, Denied
from clinic.outbox.drain import drain
from clinic.outbox.models import OutboxRow
from clinic.staff.models import Staff
from clinic.watch.models import Alarm
from tests.core_js.node import NODE
from tests.judging import BREAKS, a_case, honest, last, sent
from tests.makers import (
    a_check,
    a_lead,
    a_records_officer,
    a_therapist,
    ago,
    an_attempt,
    an_entry,
    an_episode,
    recorded,
    stamp,
)

pytestmark = pytest.mark.django_db
ROOT = Path(__file__).parents[2]


@pytest.fixture
def therapist() -> Staff:
    return a_therapist()


@pytest.fixture
def episode(therapist: Staff) -> Episode:
    return an_episode(assigned_to=therapist)


def tally() -> dict[str, int]:
    return dict(Tally.objects.values_list("outcome", "many"))


def test_agreement_costs_no_statement_and_leaves_nothing(therapist: Staff, episode: Episode) -> None:
    """Neither where nothing is broken nor where something is."""
    plain = [a_check(at=ago(minutes=7)), an_attempt(**BREAKS, at=ago(minutes=6))]
    later = [a_check(at=ago(minutes=3)), an_attempt(**BREAKS, at=ago(minutes=2))]
    sent(therapist, episode, an_attempt(at=ago(minutes=10)), judged=None)  # whatever is made once
    with CaptureQueriesContext(connection) as without:
        record_entries(actor=therapist, episode_id=episode.pk, entries=plain)
    claims = honest(therapist, episode, *later)
    assert [bool(claims[fact["id"]]["alerts"]) for fact in later] == [False, True]
    with CaptureQueriesContext(connection) as judged:
        said = record_entries(actor=therapist, episode_id=episode.pk, entries=later, judged=claims)
    assert [one.outcome for one in said.verdicts] == ["accepted", "accepted"]
    assert said.judged is None
    assert len(judged) == len(without)
    assert not OutboxRow.objects.filter(topic="judgement.doubted").exists()
    drain()
    assert (tally(), Difference.objects.count(), Alarm.objects.count()) == ({}, 0, 0)


@pytest.mark.parametrize("kind", ["late", "struck_out"])
def test_what_only_a_replay_can_judge_is_looked_at_again_and_is_the_same(
    kind: str, therapist: Staff, episode: Episode
) -> None:
    broken = an_attempt(**BREAKS, at=ago(minutes=9))
    recorded(therapist, episode, broken, an_attempt(at=ago(minutes=5)))
    late = an_attempt("short_steps", "none", at=ago(minutes=8))
    fact = late if kind == "late" else an_entry("struck_out", entry=broken["id"], reason="Wrong person")
    claims = honest(therapist, episode, fact)
    sent(therapist, episode, fact, judged=claims)
    assert tally() == {Outcome.SAME: 1}
    assert not Difference.objects.exists()


@pytest.mark.parametrize("lie", ["nothing broken", "one too many", "another severity"])
def test_a_tablet_that_says_otherwise_is_a_defect_once(lie: str, therapist: Staff, episode: Episode) -> None:
    fact = an_attempt(**BREAKS, at=ago(minutes=1))
    claims = honest(therapist, episode, fact)
    truth = claims[fact["id"]]["alerts"]
    claims[fact["id"]]["alerts"] = {
        "nothing broken": [],
        "one too many": [*truth, ["gap", fact["id"], "major"]],
        "another severity": [[rule, entry, "minor"] for rule, entry, _ in truth],
    }[lie]
    said = sent(therapist, episode, fact, judged=claims)
    assert said.verdicts[0].outcome == "accepted"
    assert {(one.rule, str(one.entry)) for one in said.raised} == {(rule, entry) for rule, entry, _ in truth}
    case = Difference.objects.get()
    assert (str(case.entry), case.found, case.sender_id) == (fact["id"], truth, therapist.pk)
    assert case.claimed["alerts"] == sorted(claims[fact["id"]]["alerts"])
    alarm = Alarm.objects.get(kind="judgement.differed")
    assert episode.reference not in alarm.text
    assert TrailRow.objects.filter(verb="judgement.differed", subject_id=str(case.pk)).count() == 1
    sent(therapist, episode, fact, judged=claims)  # sent again: it is known, and so is the case
    again = an_attempt(**BREAKS, at=ago(seconds=30))
    wrong = honest(therapist, episode, again)
    wrong[again["id"]]["alerts"] = []
    sent(therapist, episode, again, judged=wrong)
    assert Difference.objects.count() == 2
    assert Alarm.objects.filter(kind="judgement.differed").count() == 1  # one while it is open


def test_over_another_record_nothing_is_compared_and_it_is_counted(therapist: Staff, episode: Episode) -> None:
    """A second tablet's fact came in between; or the server did not have one that the tablet had."""
    mine, missing = an_attempt(**BREAKS, at=ago(minutes=1)), an_attempt(at=ago(minutes=3))
    claims = honest(therapist, episode, mine)
    claims[mine["id"]]["alerts"] = []
    recorded(therapist, episode, an_attempt(at=ago(minutes=2)))
    sent(therapist, episode, mine, judged=claims)
    fact = an_attempt(**BREAKS, at=ago(seconds=20))
    lacking = {"after": last(episode), "with": [missing["id"]], "alerts": [], "core": "1"}
    sent(therapist, episode, fact, judged={fact["id"]: lacking})
    ahead = an_attempt(**BREAKS, at=ago(seconds=10))
    sent(therapist, episode, ahead, judged={ahead["id"]: {**lacking, "after": 2**40, "with": []}})
    assert tally() == {Outcome.OTHER_RECORD: 3}
    assert (Difference.objects.count(), Alarm.objects.count()) == (0, 0)


def test_facts_sent_in_several_calls_are_the_same_record(therapist: Staff, episode: Episode) -> None:
    """What waits on the tablet goes in parts; `with` names those of the parts before."""
    facts = [an_attempt(at=ago(minutes=9 - number), **(BREAKS if number == 2 else {})) for number in range(4)]
    claims = honest(therapist, episode, *facts)
    claims[facts[2]["id"]]["alerts"] = []
    sent(therapist, episode, facts[0], judged=claims)
    sent(therapist, episode, *facts[1:], judged=claims)
    assert tally() == {Outcome.DIFFERENT: 1}
    assert str(Difference.objects.get().entry) == facts[2]["id"]


GOOD = {"after": 1, "with": [], "alerts": [], "core": "1"}
SPOILT: dict[str, tuple[Any, ...]] = {
    "after": (None, -1, True, 1.5, "1", 2**63),
    "with": (None, "x", ["x"], [3], {}, [stamp(ago())] * 2),
    "core": (None, 1, "", "x" * 81, "\x00"),
    "alerts": (None, {}, [[]], [["a", "b", "c"]], [3], ["abc"]),
}
BAD: list[tuple[Any, str]] = [
    *[([], "must be an object"), ("x", "must be an object"), (3, "must be an object")],
    ({"x": None}, "must be an object"),
    *(({"x": {**GOOD, name: one}}, f"({name}: ") for name, values in SPOILT.items() for one in values),
    ({str(number): GOOD for number in range(1_001)}, "1,000 entries at most"),
]


@pytest.mark.parametrize(("judged", "said"), BAD, ids=[f"{said}{number}" for number, (_, said) in enumerate(BAD)])
def test_what_cannot_be_read_is_left_out_with_a_sentence(
    judged: Any, said: str, therapist: Staff, episode: Episode
) -> None:
    fact = an_attempt(**BREAKS, at=ago(minutes=1))
    found = sent(therapist, episode, fact, judged=judged)
    assert found.verdicts[0].outcome == "accepted"
    assert found.raised
    assert (found.judged or "").startswith("judged: ")
    assert said in (found.judged or "")
    assert tally() == {}


def test_one_that_can_be_read_is_compared_beside_one_that_cannot(therapist: Staff, episode: Episode) -> None:
    one, other = an_attempt(**BREAKS, at=ago(minutes=2)), an_attempt(at=ago(minutes=1))
    claims = honest(therapist, episode, one, other)
    claims[one["id"]]["alerts"], claims[other["id"]] = [], {"after": "yesterday"}
    found = sent(therapist, episode, one, other, judged=claims)
    assert found.judged == (
        "judged: 1 of 2 left out (after: must be the number of an entry, or 0); the facts were taken as ever."
    )
    assert Difference.objects.count() == 1


# --- the case -------------------------------------------------------------------------------------------------------


def unpacked(content: bytes, folder: Path) -> Path:
    with zipfile.ZipFile(io.BytesIO(content)) as file:
        file.extractall(folder)
    return folder


@pytest.mark.slow
def test_both_replays_read_the_case_and_it_stays_the_same(therapist: Staff, episode: Episode, tmp_path: Path) -> None:
    case, lead = a_case(therapist, episode), a_lead()
    first = take_case(actor=lead, difference_id=case.pk)
    recorded(therapist, episode, an_attempt(at=ago(seconds=5)))
    assert take_case(actor=lead, difference_id=case.pk).content == first.content
    folder = unpacked(first.content, tmp_path)
    files = [str(folder / "protocol.json"), str(folder / "history.jsonl")]
    ours = subprocess.run([NODE, "tests/replay.mjs", *files], cwd=ROOT, capture_output=True, check=True, timeout=60)
    theirs = subprocess.run(
        [str(ROOT / ".venv/bin/python"), "manage.py", "replay", *files],
        cwd=ROOT,
        capture_output=True,
        check=True,
        timeout=60,
    )
    assert ours.stdout == theirs.stdout
    alerts = {(one["rule"], one["entry"]) for one in json.loads(ours.stdout)["alerts"]}
    said = json.loads((folder / "case.json").read_bytes())
    assert {(rule, entry) for rule, entry, _ in said["server"]["alerts"]} <= alerts
    assert said["protocol"]["digest"] == protocols.loaded(episode.head.protocol_id).digest
    assert TrailRow.objects.filter(verb="difference.taken_out", actor=lead).count() == 2


def test_only_a_lead_sees_a_case(therapist: Staff, episode: Episode) -> None:
    case = a_case(therapist, episode)
    for actor in (therapist, a_records_officer()):
        with pytest.raises(Denied):
            take_case(actor=actor, difference_id=case.pk)
        with pytest.raises(Denied):
            differences_page(actor, at=ago())
    assert [row.pk for row in differences_page(a_lead(), at=ago()).rows] == [case.pk]


def test_a_case_whose_record_is_another_is_not_handed_out(therapist: Staff, episode: Episode) -> None:
    case = a_case(therapist, episode)
    other = Difference(**{**{f.attname: getattr(case, f.attname) for f in case._meta.fields}, "history": "0" * 64})
    other.pk, other.entry = an_attempt()["id"], an_attempt()["id"]
    other.save(force_insert=True)
    with pytest.raises(Conflict, match="no longer"):
        take_case(actor=a_lead(), difference_id=other.pk)


def test_a_reason_to_go_against_advice_is_in_the_record_and_in_the_case(
    therapist: Staff, episode: Episode, tmp_path: Path
) -> None:
    case = a_case(therapist, episode)
    body = orjson.loads(EntryContent.objects.get(entry_id=str(case.entry)).body)
    assert body["despite"] == "She asked for it"
    folder = unpacked(take_case(actor=a_lead(), difference_id=case.pk).content, tmp_path)
    lines = [json.loads(line) for line in (folder / "history.jsonl").read_bytes().splitlines()]
    assert [line.get("despite") for line in lines if line["id"] == str(case.entry)] == ["She asked for it"]
