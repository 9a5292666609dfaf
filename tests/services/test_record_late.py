"""Late and corrected facts: who may send them, what waits for the lead, and which alerts go and come."""

from __future__ import annotations

from datetime import timedelta
from typing import Any
from uuid import UUID

import pytest

from checklists.alerts.models import Alert, AlertStep
from checklists.alerts.scans import scan_deadlines
from checklists.models import Deadline, Entry, HeldEntry, RefusedEntry
from checklists.record.services import move_entries, release_held, turn_away_held
from clinic.errors import Conflict, Denied, Invalid, NotFound
from clinic.outbox.models import OutboxRow
from tests.makers import (
    a_check,
    a_cover,
    a_fall,
    a_lead,
    a_therapist,
    ago,
    an_attempt,
    an_entry,
    an_episode,
    imported,
    now,
    recorded,
)

pytestmark = pytest.mark.django_db


def alert(rule: str) -> Alert:
    return Alert.objects.get(rule=rule)


def steps(rule: str) -> list[str]:
    return list(AlertStep.objects.filter(alert__rule=rule).order_by("pk").values_list("kind", flat=True))


# --- whose fact, and when ---------------------------------------------------------------------------------------------


def test_whoever_covered_then_may_send_it_now() -> None:
    episode, stand_in = an_episode(), a_therapist()
    a_cover(episode, stand_in, start=ago(days=5), end=ago(days=2))
    assert recorded(stand_in, episode, an_attempt(at=ago(days=3))).outcomes() == {"accepted": 1}


def test_the_same_batch_again_is_harmless_after_the_cover_has_ended() -> None:
    episode, stand_in = an_episode(), a_therapist()
    a_cover(episode, stand_in, start=ago(days=5), end=ago(days=2))
    attempt = an_attempt(at=ago(days=3))
    recorded(stand_in, episode, attempt)
    assert recorded(stand_in, episode, attempt).outcomes() == {"repeated": 1}


def test_a_fact_from_after_the_cover_is_not_lost_but_waits_for_the_lead() -> None:
    episode, stand_in = an_episode(), a_therapist()
    a_cover(episode, stand_in, start=ago(days=5), end=ago(days=2))
    fall = a_fall(at=ago(days=1))
    assert recorded(stand_in, episode, fall).verdicts[0].outcome == "held"
    assert not Entry.objects.filter(id=fall["id"]).exists()
    release_held(actor=a_lead(), held_id=HeldEntry.objects.get().pk)
    assert Entry.objects.get(id=fall["id"]).by == stand_in


@pytest.mark.parametrize("days", [None, (1, 9)])
def test_who_never_carried_this_person_or_will_some_day_is_told_nothing(days: Any) -> None:
    episode, stranger = an_episode(), a_therapist()
    if days:
        a_cover(episode, stranger, start=now() + timedelta(days=days[0]), end=now() + timedelta(days=days[1]))
    with pytest.raises(NotFound):
        recorded(stranger, episode, an_attempt(at=ago(days=1)))
    assert not HeldEntry.objects.exists()


def test_a_fact_from_before_the_assignment_waits_for_the_lead() -> None:
    therapist = a_therapist()
    episode = an_episode(assigned_to=therapist, opened=ago(days=2))
    verdict = recorded(therapist, episode, an_attempt(at=ago(days=3))).verdicts[0]
    assert (verdict.outcome, Entry.objects.filter(kind="attempt").exists()) == ("held", False)


def test_whoever_has_just_been_assigned_records_what_they_have_just_seen() -> None:
    therapist = a_therapist()
    episode = an_episode(assigned_to=therapist, opened=ago(minutes=1))
    batch = [an_attempt(at=ago(minutes=4)), an_attempt(at=ago(minutes=6))]
    assert [one.outcome for one in recorded(therapist, episode, *batch).verdicts] == ["accepted", "held"]


def test_after_seven_days_a_fact_waits_for_the_lead() -> None:
    therapist = a_therapist()
    episode = an_episode(assigned_to=therapist)
    batch = [an_attempt(at=ago(days=7, minutes=-1)), an_attempt(at=ago(days=7, minutes=1))]
    assert [one.outcome for one in recorded(therapist, episode, *batch).verdicts] == ["accepted", "held"]


def test_a_held_fact_sent_again_is_held_once() -> None:
    therapist = a_therapist()
    episode = an_episode(assigned_to=therapist)
    late = an_attempt(at=ago(days=9))
    assert [recorded(therapist, episode, late).verdicts[0].outcome for _ in range(2)] == ["held", "held"]
    assert HeldEntry.objects.count() == 1
    assert OutboxRow.objects.filter(topic="entry.held").count() == 1


@pytest.mark.parametrize("elsewhere", [False, True])
def test_another_fact_under_the_id_of_a_held_one_is_refused_and_kept(elsewhere: Any) -> None:
    therapist = a_therapist()
    episode = an_episode(assigned_to=therapist)
    late = an_attempt(at=ago(days=9))
    recorded(therapist, episode, late)
    other = {**late, "result": "unsafe"} if not elsewhere else late
    verdict = recorded(therapist, an_episode(assigned_to=therapist) if elsewhere else episode, other).verdicts[0]
    assert (verdict.outcome, str(verdict.error)[:3]) == ("refused", "id:")
    assert RefusedEntry.objects.count() == 1
    assert HeldEntry.objects.get().episode == episode


def test_a_lead_releases_it_as_its_author_sent_it() -> None:
    therapist, lead = a_therapist(), a_lead()
    episode = an_episode(assigned_to=therapist)
    late = an_attempt(at=ago(days=9))
    recorded(therapist, episode, late)
    release_held(actor=lead, held_id=HeldEntry.objects.get().pk)
    entry = Entry.objects.get(id=late["id"])
    assert (entry.by, entry.sender) == (therapist, lead)
    assert recorded(therapist, episode, late).outcomes() == {"repeated": 1}


def test_what_the_lead_turned_away_is_refused_when_it_comes_again() -> None:
    therapist, lead = a_therapist(), a_lead()
    episode = an_episode(assigned_to=therapist)
    late = an_attempt(at=ago(days=9))
    recorded(therapist, episode, late)
    turn_away_held(actor=lead, held_id=HeldEntry.objects.get().pk)
    assert recorded(therapist, episode, late).outcomes() == {"refused": 1}
    with pytest.raises(Conflict):
        release_held(actor=lead, held_id=HeldEntry.objects.get().pk)


def test_nobody_but_a_lead_releases() -> None:
    therapist = a_therapist()
    episode = an_episode(assigned_to=therapist)
    recorded(therapist, episode, an_attempt(at=ago(days=9)))
    with pytest.raises(Denied):
        release_held(actor=therapist, held_id=HeldEntry.objects.get().pk)


# --- what late facts do to alerts -------------------------------------------------------------------------------------


def test_a_start_check_that_arrives_late_takes_the_alert_away() -> None:
    therapist = a_therapist()
    episode = an_episode(assigned_to=therapist)
    attempt = an_attempt(at=ago(minutes=5))
    assert [one.rule for one in recorded(therapist, episode, attempt).raised] == ["start_check"]
    check = a_check(at=ago(minutes=10))
    assert [one.rule for one in recorded(therapist, episode, check).withdrawn] == ["start_check"]
    gone = alert("start_check")
    assert (gone.open, str(gone.withdrawn_with), steps("start_check")) == (False, check["id"], ["raised", "withdrawn"])


def test_of_several_that_arrive_at_once_the_first_that_took_it_away_is_named() -> None:
    therapist = a_therapist()
    episode = an_episode(assigned_to=therapist)
    recorded(therapist, episode, an_attempt(at=ago(minutes=5)))
    checks = [an_entry("near_miss", at=ago(minutes=30)), a_check(at=ago(minutes=10)), a_check(at=ago(minutes=9))]
    recorded(therapist, episode, *checks)
    assert str(alert("start_check").withdrawn_with) == checks[1]["id"]


def test_an_alert_that_newly_follows_has_both_times() -> None:
    therapist = a_therapist()
    episode = an_episode(assigned_to=therapist)
    recorded(therapist, episode, a_check(at=ago(hours=3)), an_attempt("don_check", "none", at=ago(hours=1)))
    fall = a_fall(at=ago(hours=2))
    attempt = an_attempt(support="none", help="watching", at=ago(minutes=30))
    recorded(therapist, episode, attempt)
    recorded(therapist, episode, fall)
    raised = alert("fall_review")
    assert (str(raised.entry), raised.happened_at) == (
        attempt["id"],
        ago(minutes=30).replace(second=raised.happened_at.second),
    )
    assert raised.known_at > ago(minutes=1)


def test_what_was_withdrawn_and_follows_again_is_raised_again() -> None:
    therapist = a_therapist()
    episode = an_episode(assigned_to=therapist)
    check = a_check(at=ago(minutes=10))
    recorded(therapist, episode, an_attempt(at=ago(minutes=5)))
    recorded(therapist, episode, check)
    recorded(therapist, episode, an_entry("struck_out", entry=check["id"], reason="another person's"))
    assert (alert("start_check").open, steps("start_check")) == (True, ["raised", "withdrawn", "raised_again"])


def test_a_critical_alert_that_is_struck_away_is_put_before_the_lead() -> None:
    therapist = a_therapist()
    episode = an_episode(assigned_to=therapist)
    fall = a_fall(at=ago(minutes=10))
    recorded(therapist, episode, fall, an_attempt("sit_stand", "none", help="watching"))
    recorded(therapist, episode, an_entry("struck_out", entry=fall["id"], reason="it was a stumble"))
    row = OutboxRow.objects.get(topic="alert.struck_away")
    assert [rule for rule, _ in row.payload["alerts"]] == ["fall_review"]


def test_a_strike_out_that_comes_before_its_target_waits_for_it() -> None:
    therapist = a_therapist()
    episode = an_episode(assigned_to=therapist)
    attempt = an_attempt()
    strike = an_entry("struck_out", entry=attempt["id"], reason="twice")
    assert recorded(therapist, episode, strike).outcomes() == {"accepted": 1}
    assert not recorded(therapist, episode, attempt).raised


# --- deadlines --------------------------------------------------------------------------------------------------------


def test_a_fall_that_nobody_reviews_is_reported_once() -> None:
    therapist = a_therapist()
    episode = an_episode(assigned_to=therapist)
    recorded(therapist, episode, a_fall(at=ago(days=4, minutes=1)))
    assert [scan_deadlines(now()) for _ in range(2)] == [1, 0]
    assert alert("fall_unreviewed").severity == "critical"
    assert OutboxRow.objects.filter(topic="alert.raised").count() == 1


def test_at_the_very_end_of_the_time_it_is_not_yet_late() -> None:
    therapist = a_therapist()
    episode = an_episode(assigned_to=therapist)
    recorded(therapist, episode, a_fall(at=ago(hours=1)))
    due = Deadline.objects.get().due_at
    assert scan_deadlines(due) == 0


def test_a_review_in_time_that_arrives_after_the_report_withdraws_it() -> None:
    therapist = a_therapist()
    episode = an_episode(assigned_to=therapist)
    fall = a_fall(at=ago(days=4, hours=1))
    recorded(therapist, episode, fall)
    scan_deadlines(now())
    review = an_entry("review", at=ago(days=1), of=[fall["id"]], outcome="cleared")
    taken = recorded(therapist, episode, review)
    assert not alert("fall_unreviewed").open
    assert [one.rule for one in taken.withdrawn] == ["fall_unreviewed"]


def test_a_review_in_time_that_arrives_before_the_scan_but_after_a_later_fact_is_no_alert() -> None:
    therapist = a_therapist()
    episode = an_episode(assigned_to=therapist)
    fall = a_fall(at=ago(days=5))
    recorded(therapist, episode, fall)
    recorded(therapist, episode, an_entry("session_opened", at=ago(minutes=1)))
    assert alert("fall_unreviewed").open
    recorded(therapist, episode, an_entry("review", at=ago(days=2), of=[fall["id"]], outcome="cleared"))
    assert scan_deadlines(now()) == 0
    assert not alert("fall_unreviewed").open


def test_a_fall_that_arrives_with_its_review_late_is_no_deadline() -> None:
    therapist = a_therapist()
    episode = an_episode(assigned_to=therapist)
    fall = a_fall(at=ago(days=6))
    recorded(therapist, episode, fall, an_entry("review", at=ago(days=5), of=[fall["id"]], outcome="cleared"))
    assert scan_deadlines(now()) == 0


def test_a_struck_fall_is_no_deadline() -> None:
    therapist = a_therapist()
    episode = an_episode(assigned_to=therapist)
    fall = a_fall(at=ago(days=5))
    recorded(therapist, episode, fall)
    recorded(therapist, episode, an_entry("struck_out", entry=fall["id"], reason="another person's"))
    assert scan_deadlines(now()) == 0


# --- the wrong person -------------------------------------------------------------------------------------------------


def test_recorded_on_the_wrong_person_is_one_act() -> None:
    therapist = a_therapist()
    wrong, right = an_episode(assigned_to=therapist), an_episode(assigned_to=therapist)
    check, attempt = a_check(at=ago(minutes=10)), an_attempt(at=ago(minutes=5))
    recorded(therapist, wrong, check, attempt)
    ids = [UUID(check["id"]), UUID(attempt["id"])]
    moved = move_entries(
        actor=therapist, from_episode=wrong.pk, to_episode=right.pk, entry_ids=ids, reason="names alike"
    )
    assert Entry.objects.filter(episode=wrong, kind="struck_out").count() == 2
    copies = Entry.objects.filter(episode=right, id__in=moved.ids.values()).order_by("at")
    assert [(one.kind, one.by) for one in copies] == [("check", therapist), ("attempt", therapist)]
    assert '"note":"Recorded on the wrong person first: names alike"' in copies[0].content.body


def test_of_a_move_that_cannot_be_made_nothing_is_done() -> None:
    therapist = a_therapist()
    wrong, right = an_episode(assigned_to=therapist), an_episode(assigned_to=therapist, side="both")
    locked = an_entry("mode_set", mode="locked")
    recorded(therapist, wrong, locked)
    with pytest.raises(Invalid, match="knee"):
        move_entries(
            actor=therapist, from_episode=wrong.pk, to_episode=right.pk, entry_ids=[UUID(locked["id"])], reason="alike"
        )
    assert not Entry.objects.filter(kind="struck_out").exists()


@pytest.mark.parametrize("reason", ["", "   "])
def test_a_move_says_why(reason: Any) -> None:
    therapist = a_therapist()
    wrong, right = an_episode(assigned_to=therapist), an_episode(assigned_to=therapist)
    attempt = an_attempt()
    recorded(therapist, wrong, attempt)
    with pytest.raises(Invalid):
        move_entries(
            actor=therapist, from_episode=wrong.pk, to_episode=right.pk, entry_ids=[UUID(attempt["id"])], reason=reason
        )


def test_an_imported_signature_without_authority_stands_and_is_asked_about() -> None:
    signer, lead = a_therapist(registered=False), a_lead()
    episode = an_episode(assigned_to=signer)
    signature = an_entry("sign_off", by=signer, at=ago(days=20), skill="don_check")
    taken = imported(lead, episode, signature)
    assert {one.rule for one in taken.raised} == {"unauthorised_sign_off", "unsupported_sign_off"}
    assert not alert("unauthorised_sign_off").by_rule
    recorded(lead, episode, an_entry("struck_out", entry=signature["id"], reason="never given"))
    assert not alert("unauthorised_sign_off").open
