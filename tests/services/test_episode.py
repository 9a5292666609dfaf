"""Opening, closing, changing a setting, reviewing: plans and facts in one transaction."""

from __future__ import annotations

import json
from datetime import timedelta
from pathlib import Path
from typing import Any
from uuid import UUID, uuid4

import pytest
from django.db import ProgrammingError

from caseload.models import AdjustmentRequest, Assignment, Episode, PlannedReview, Visit
from caseload.request.services import ask_adjustment
from checklists.episode.services import change_setting, close_episode, open_episode, review_fall
from checklists.models import Alert, Entry, EntryContent, Head, ProtocolVersion
from checklists.record import protocols
from clinic.errors import Conflict, Denied, Invalid, NotFound, Stale
from clinic.staff.models import Site, Staff
from tests.makers import (
    a_fall,
    a_lead,
    a_person,
    a_prosthetist,
    a_referral,
    a_therapist,
    ago,
    an_attempt,
    an_entry,
    an_episode,
    now,
    recorded,
)

pytestmark = pytest.mark.django_db


def the_fact(kind: str) -> dict[str, object]:
    found: dict[str, object] = json.loads(EntryContent.objects.get(entry__kind=kind).body)
    return found


def test_a_referral_becomes_an_episode_that_a_therapist_carries() -> None:
    lead, therapist, referral = a_lead(), a_therapist(), a_referral(side="right", features=["lock", "yielding"])
    episode = open_episode(actor=lead, referral_id=referral.pk, therapist_id=therapist.pk)
    fact = the_fact("episode_opened")
    assert (fact["side"], fact["features"], fact["protocol"]) == ("right", ["lock", "yielding"], "above_knee@1")
    assert (episode.side, episode.features, episode.referral) == ("right", ["lock", "yielding"], referral)
    assert Assignment.objects.get(episode=episode).staff == therapist
    assert recorded(therapist, episode, an_attempt()).outcomes() == {"accepted": 1}
    referral.refresh_from_db()
    assert referral.accepted_at is not None


def test_the_same_referral_again_is_the_same_episode() -> None:
    lead, therapist, referral = a_lead(), a_therapist(), a_referral()
    opened = [open_episode(actor=lead, referral_id=referral.pk, therapist_id=therapist.pk) for _ in range(2)]
    assert opened[0] == opened[1]
    assert Entry.objects.count() == 1


def test_references_run_on() -> None:
    lead, therapist = a_lead(), a_therapist()
    made = [open_episode(actor=lead, referral_id=a_referral().pk, therapist_id=therapist.pk) for _ in range(2)]
    first, second = (int(one.reference.split("-")[1]) for one in made)
    assert second == first + 1


def test_somebody_in_care_is_not_opened_again() -> None:
    lead, person = a_lead(), a_person()
    referral = a_referral(person)
    an_episode(person=person)
    with pytest.raises(Conflict, match="in care already"):
        open_episode(actor=lead, referral_id=referral.pk, therapist_id=a_therapist().pk)
    referral.refresh_from_db()
    assert referral.accepted_at is None


def test_a_prosthetist_carries_nobody() -> None:
    with pytest.raises(Invalid, match="no therapist"):
        open_episode(actor=a_lead(), referral_id=a_referral().pk, therapist_id=a_prosthetist().pk)
    assert not Episode.objects.exists()


def test_a_therapist_assigns_nobody() -> None:
    therapist = a_therapist()
    with pytest.raises(NotFound):
        open_episode(actor=therapist, referral_id=a_referral().pk, therapist_id=therapist.pk)


def test_a_first_day_to_come_is_refused() -> None:
    with pytest.raises(Invalid, match="ahead"):
        open_episode(
            actor=a_lead(), referral_id=a_referral().pk, therapist_id=a_therapist().pk, first_day=ago(days=-2).date()
        )


def test_a_discharge_ends_what_was_planned() -> None:
    therapist = a_therapist()
    episode = an_episode(assigned_to=therapist)
    visit = Visit.objects.create(
        episode=episode, site=episode.site, staff=therapist, starts_at=now() + timedelta(days=3)
    )
    review = a_planned_review(episode, therapist)
    close_episode(actor=therapist, episode_id=episode.pk, reason="goals reached")
    for row in (episode, visit, review):
        row.refresh_from_db()
    assert the_fact("episode_closed")["reason"] == "goals reached"
    assert episode.closed_at is not None
    assert (visit.state, review.cancelled_at is None) == ("cancelled", False)
    assert Assignment.objects.get(episode=episode).period.upper is not None


def test_closed_is_closed() -> None:
    lead, episode = a_lead(), an_episode()
    close_episode(actor=lead, episode_id=episode.pk)
    with pytest.raises(Conflict):
        close_episode(actor=lead, episode_id=episode.pk)


def test_a_closing_with_the_lock_in_is_noticed() -> None:
    therapist = a_therapist()
    episode = an_episode(assigned_to=therapist)
    recorded(therapist, episode, an_entry("mode_set", mode="locked", at=ago(minutes=5)))
    close_episode(actor=therapist, episode_id=episode.pk)
    assert [one.rule for one in Alert.objects.all()] == ["walking_mode_at_close"]


def a_planned_review(episode: Episode, staff: Staff, **fields: Any) -> PlannedReview:
    given = {"due_on": now().date() + timedelta(days=5), "planned_by": staff, "planned_at": now(), **fields}
    return PlannedReview.objects.create(episode=episode, **given)


# --- the bench --------------------------------------------------------------------------------------------------------


def a_request(setting: str = "resistance") -> AdjustmentRequest:
    therapist = a_therapist()
    episode = an_episode(assigned_to=therapist)
    return ask_adjustment(actor=therapist, episode_id=episode.pk, setting=setting, text="Too soft on the ramp.")


def test_a_change_answers_the_request_that_asked_for_it() -> None:
    bench, request = a_prosthetist(), a_request()
    change: dict[str, Any] = {"setting": "resistance", "before": "4", "to": "6", "request_id": request.pk, "version": 1}
    done = change_setting(actor=bench, episode_id=request.episode_id, **change)
    request.refresh_from_db()
    assert (request.state, request.done_by, request.entry) == ("done", bench, done.entry)
    fact = the_fact("setting_changed")
    assert (fact["setting"], fact["from"], fact["to"], fact["role"]) == ("resistance", "4", "6", "prosthetist")


def test_a_change_sent_twice_is_one_change() -> None:
    bench, request, entry = a_prosthetist(), a_request(), uuid4()
    change: dict[str, Any] = {
        "setting": "resistance",
        "to": "6",
        "request_id": request.pk,
        "version": 1,
        "entry_id": entry,
    }
    done = [change_setting(actor=bench, episode_id=request.episode_id, **change) for _ in range(2)]
    assert [one.recorded.verdicts[0].outcome for one in done] == ["accepted", "repeated"]
    assert Entry.objects.filter(kind="setting_changed").count() == 1


def test_a_request_that_somebody_reworded_is_not_answered_unread() -> None:
    bench, request = a_prosthetist(), a_request()
    with pytest.raises(Stale):
        change_setting(
            actor=bench, episode_id=request.episode_id, setting="resistance", to="6", request_id=request.pk, version=0
        )
    assert not Entry.objects.filter(kind="setting_changed").exists()


def test_another_persons_request_is_not_answered() -> None:
    bench, request, elsewhere = a_prosthetist(), a_request(), an_episode()
    with pytest.raises(Invalid, match="somebody else"):
        change_setting(
            actor=bench, episode_id=elsewhere.pk, setting="resistance", to="6", request_id=request.pk, version=1
        )


def test_a_therapist_changes_no_resistance() -> None:
    therapist = a_therapist()
    episode = an_episode(assigned_to=therapist)
    with pytest.raises((Invalid, Denied), match="your role does not include this"):
        change_setting(actor=therapist, episode_id=episode.pk, setting="resistance", to="6")


# --- reviews ----------------------------------------------------------------------------------------------------------


def test_a_review_of_a_fall_settles_its_plan_and_plans_the_next() -> None:
    therapist = a_therapist()
    episode = an_episode(assigned_to=therapist)
    fall = a_fall(at=ago(days=1))
    recorded(therapist, episode, fall)
    planned = a_planned_review(episode, therapist, kind="fall")
    due = now().date() + timedelta(days=14)
    done = review_fall(actor=therapist, episode_id=episode.pk, of=[UUID(fall["id"])], outcome="cleared", next_due=due)
    planned.refresh_from_db()
    assert (planned.entry, planned.done_at is None) == (done.entry, False)
    assert PlannedReview.objects.get(done_at__isnull=True).due_on == due


def test_a_review_by_the_tablet_settles_the_plan_as_well() -> None:
    therapist = a_therapist()
    episode = an_episode(assigned_to=therapist)
    planned = a_planned_review(episode, therapist)
    review = an_entry("review")
    recorded(therapist, episode, review)
    planned.refresh_from_db()
    assert str(planned.entry) == review["id"]


# --- the protocol -----------------------------------------------------------------------------------------------------


def test_a_protocol_is_stored_with_its_digest_at_first_use() -> None:
    kept = protocols.current(now())
    assert kept.digest == protocols.loaded(kept.pk).digest
    assert [one.pk for one in protocols.store_all(now())] == [kept.pk]


def test_other_bytes_under_a_version_in_use_stop_the_start(tmp_path: Path) -> None:
    protocols.store_all(now())
    document = json.loads((protocols.FOLDER / "above_knee.json").read_text())
    document["gap_days"] += 1
    (tmp_path / "above_knee.json").write_text(json.dumps(document))
    with pytest.raises(protocols.ProtocolChanged, match="a version that was used never changes"):
        protocols.store_all(now(), tmp_path)
    assert ProtocolVersion.objects.count() == 1


def test_a_protocol_that_is_refused_stops_the_start_with_the_place(tmp_path: Path) -> None:
    (tmp_path / "bad.json").write_text(
        '{"key": "bad", "version": 1, "title": "x", "support": [], "help": ["alone"], "skills": []}'
    )
    with pytest.raises(Conflict, match=r"bad\.json is refused: .*support"):
        protocols.store_all(now(), tmp_path)


def test_an_episode_without_a_snapshot_is_folded_from_its_record() -> None:
    therapist = a_therapist()
    episode = an_episode(assigned_to=therapist)
    recorded(therapist, episode, an_attempt("don_check", "none", help="watching", at=ago(minutes=2)))
    Head.objects.filter(episode=episode).update(snapshot=b'[0,"of an earlier form"]')
    recorded(therapist, episode, an_attempt("don_check", "none", help="watching"))
    assert Head.objects.get(episode=episode).board["skills"]["don_check"]["run"] == 2


def test_a_stored_protocol_cannot_be_changed() -> None:
    protocols.current(now())
    with pytest.raises(ProgrammingError, match="permission denied"):
        ProtocolVersion.objects.update(document="{}")


def test_what_a_service_writes_is_dated_by_the_clock_of_the_site() -> None:
    """Calendar dates are read as they are written, so a service writes the site's offset as the tablet does."""
    therapist = a_therapist(site=Site.objects.create(name="Far Harbour", time_zone="Pacific/Auckland"))
    episode = an_episode(assigned_to=therapist)
    written = review_fall(actor=therapist, episode_id=episode.pk, of=[], outcome=None)
    body = json.loads(EntryContent.objects.get(entry__id=written.entry).body)
    assert body["at"][-6:] in ("+12:00", "+13:00")
