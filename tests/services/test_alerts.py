"""Alerts: one row an act, answered with what was done, opened again, escalated, told once to whoever must hear of
them."""

from __future__ import annotations

from typing import Any
from uuid import UUID

import pytest
from django.core import mail

from checklists.alerts.models import Alert, AlertStep, Notice
from checklists.alerts.scans import escalate_alerts, scan_deadlines
from checklists.alerts.selectors import Filters, acts, unread, waiting_count
from checklists.alerts.services import acknowledge, read_notices, take_back
from checklists.models import Head
from checklists.record.stale import refresh_stale_boards
from clinic import clock
from clinic.audit.models import TrailRow
from clinic.errors import Denied, Invalid, NotFound
from clinic.outbox.drain import drain
from clinic.outbox.models import OutboxRow
from clinic.staff.models import Staff
from tests.makers import (
    a_check,
    a_cover,
    a_fall,
    a_lead,
    a_prosthetist,
    a_therapist,
    ago,
    an_assistant,
    an_attempt,
    an_entry,
    an_episode,
    imported,
    now,
    recorded,
)

pytestmark = pytest.mark.django_db


@pytest.fixture
def alone() -> Any:
    """A critical act: tried alone without a sign-off, and what else that breaks."""
    therapist = a_therapist()
    episode = an_episode(assigned_to=therapist)
    attempt = an_attempt("sit_stand", "bars_both", help="alone")
    recorded(therapist, episode, a_check(at=ago(minutes=5)), attempt)
    return therapist, episode, UUID(attempt["id"])


def told(staff: Staff) -> list[str]:
    return list(Notice.objects.filter(staff=staff).values_list("topic", flat=True))


def test_one_act_is_one_row_with_its_rules_inside(alone: Any) -> None:
    therapist, episode, entry = alone
    (act,) = acts(therapist, at=now())
    assert (act.entry, act.episode_id, act.by, act.severity) == (entry, episode.pk, therapist.name, "critical")
    assert [(one.rule, one.state) for one in act.rules] == [("alone", "waiting"), ("prerequisite", "waiting")]
    assert all(one.sentence and one.do_now for one in act.rules)


def test_an_act_is_answered_with_what_was_done(alone: Any) -> None:
    therapist, episode, entry = alone
    assert acknowledge(actor=therapist, episode_id=episode.pk, entry=entry, text="Talked it over.") == 2
    (act,) = acts(therapist, at=now())
    assert act.answer is not None
    assert (act.state, act.answer.text, act.answer.by) == ("answered", "Talked it over.", therapist)
    assert TrailRow.objects.filter(verb="alert.acknowledged").count() == 1


def said_of(staff: Staff, entry: UUID) -> list[tuple[str, str, bool]]:
    """What was said about an act: by whom, what, and whether it was taken back."""
    (act,) = [one for one in acts(staff, at=now()) if one.entry == entry]
    return [(one.step.by.name, one.step.text, one.gone) for one in act.said if one.step.by]


def test_the_same_answer_twice_changes_nothing(alone: Any) -> None:
    therapist, episode, entry = alone
    assert acknowledge(actor=therapist, episode_id=episode.pk, entry=entry, text="Talked it over.") == 2
    assert acknowledge(actor=therapist, episode_id=episode.pk, entry=entry, text="Talked it over.") == 0
    assert said_of(therapist, entry) == [(therapist.name, "Talked it over.", False)]


def test_a_further_answer_follows_the_first_and_both_stand(alone: Any) -> None:
    therapist, episode, entry = alone
    lead = a_lead()
    acknowledge(actor=therapist, episode_id=episode.pk, entry=entry, text="Talked it over.")
    assert acknowledge(actor=lead, episode_id=episode.pk, entry=entry, text="Me too.") == 2
    assert said_of(lead, entry) == [(therapist.name, "Talked it over.", False), (lead.name, "Me too.", False)]
    assert set(Alert.objects.filter(entry=entry).values_list("acknowledged_by", flat=True)) == {therapist.pk}


def test_an_answer_that_is_taken_back_stays_in_sight_and_its_alerts_wait_again(alone: Any) -> None:
    therapist, episode, entry = alone
    acknowledge(actor=therapist, episode_id=episode.pk, entry=entry, text="Knee charged.")
    assert waiting_count(therapist, at=now()) == 0
    assert take_back(actor=therapist, episode_id=episode.pk, entry=entry, text="Meant for another alert.") == 2
    (act,) = acts(therapist, Filters(waiting=True), at=now())
    assert (act.state, act.answer, waiting_count(therapist, at=now())) == ("waiting", None, 1)
    acknowledge(actor=therapist, episode_id=episode.pk, entry=entry, text="Talked it over.")
    texts = [("Knee charged.", True), ("Meant for another alert.", False), ("Talked it over.", False)]
    assert said_of(therapist, entry) == [(therapist.name, text, gone) for text, gone in texts]
    assert TrailRow.objects.filter(verb="alert.answer_taken_back").count() == 1


def test_taken_back_twice_or_before_any_answer_changes_nothing(alone: Any) -> None:
    therapist, episode, entry = alone
    assert take_back(actor=therapist, episode_id=episode.pk, entry=entry, text="No.") == 0
    acknowledge(actor=therapist, episode_id=episode.pk, entry=entry, text="Knee charged.")
    counts = [take_back(actor=therapist, episode_id=episode.pk, entry=entry, text="No.") for _ in range(2)]
    assert counts == [2, 0]


@pytest.mark.parametrize("text", ["", "  ", "x" * 2_001])
def test_taking_back_says_why_and_is_only_for_whoever_may_answer(alone: Any, text: Any) -> None:
    therapist, episode, entry = alone
    acknowledge(actor=therapist, episode_id=episode.pk, entry=entry, text="Knee charged.")
    with pytest.raises(Invalid):
        take_back(actor=therapist, episode_id=episode.pk, entry=entry, text=text)
    with pytest.raises(NotFound):
        take_back(actor=a_therapist(), episode_id=episode.pk, entry=entry, text="Wrong.")
    with pytest.raises(Denied):
        take_back(actor=an_assistant(), episode_id=episode.pk, entry=entry, text="Wrong.")


def test_a_rule_that_joins_an_answered_act_opens_it_again(alone: Any) -> None:
    therapist, episode, entry = alone
    acknowledge(actor=therapist, episode_id=episode.pk, entry=entry, text="Talked it over.")
    recorded(therapist, episode, a_fall(at=ago(minutes=2)))
    (act,) = acts(therapist, at=now())
    states = {one.rule: one.state for one in act.rules}
    assert (act.state, states["alone"]) == ("waiting", "answered")


def test_a_withdrawn_act_stays_in_sight(alone: Any) -> None:
    therapist, episode, entry = alone
    recorded(therapist, episode, an_entry("struck_out", entry=str(entry), reason="another person's"))
    withdrawn = [act for act in acts(therapist, at=now()) if act.entry == entry]
    assert [act.state for act in withdrawn] == ["withdrawn"]
    assert entry not in [act.entry for act in acts(therapist, Filters(waiting=True), at=now())]


@pytest.mark.parametrize("text", ["", "  ", "x" * 2_001])
def test_an_answer_says_what_was_done(alone: Any, text: Any) -> None:
    therapist, episode, entry = alone
    with pytest.raises(Invalid):
        acknowledge(actor=therapist, episode_id=episode.pk, entry=entry, text=text)


def test_who_may_answer(alone: Any) -> None:
    _, episode, entry = alone
    with pytest.raises(NotFound):
        acknowledge(actor=a_therapist(), episode_id=episode.pk, entry=entry, text="Done.")
    with pytest.raises(Denied):
        acknowledge(actor=an_assistant(), episode_id=episode.pk, entry=entry, text="Done.")


def test_a_colleague_sees_only_their_own(alone: Any) -> None:
    assert acts(a_therapist(), at=now()) == []
    assert waiting_count(alone[0], at=now()) == 1


# --- telling ----------------------------------------------------------------------------------------------------------


def test_critical_ones_are_told_to_therapist_cover_and_lead_and_to_nobody_else() -> None:
    lead, therapist, cover, other = a_lead(), a_therapist(), a_therapist(), a_therapist()
    episode = an_episode(assigned_to=therapist)
    a_cover(episode, cover, start=ago(days=1), end=None)
    recorded(therapist, episode, a_check(at=ago(minutes=5)), an_attempt(help="alone"))
    drain()
    assert [told(one) for one in (lead, therapist, cover, other)] == [["alert.raised"]] * 3 + [[]]


def test_the_others_are_told_to_the_therapist_alone() -> None:
    lead, therapist = a_lead(), a_therapist()
    recorded(therapist, an_episode(assigned_to=therapist), an_attempt())
    drain()
    assert (told(lead), told(therapist)) == ([], ["alert.raised"])


def test_news_is_told_once_however_often_it_is_handled(alone: Any) -> None:
    drain()
    before = Notice.objects.count()
    OutboxRow.objects.update(done_at=None, leased_until=None)
    drain()
    assert (Notice.objects.count(), before) == (before, 1 + Notice.objects.exclude(staff=alone[0]).count())


def test_mail_says_a_reference_and_a_link_and_no_more(alone: Any, settings: Any) -> None:
    therapist, episode, _ = alone
    drain()
    (message,) = [one for one in mail.outbox if one.to == [therapist.email]]
    said = f"{message.subject} {message.body}"
    assert message.body.split() == (
        f"There is news about {episode.reference}. Sign in to read it: {settings.PUBLIC_ADDRESS}/alerts/".split()
    )
    assert episode.person.family_name not in said
    assert Notice.objects.get(staff=therapist).mailed_at is not None


def test_the_badge_counts_what_is_new_until_it_is_looked_at(alone: Any) -> None:
    therapist = alone[0]
    drain()
    counts = unread(therapist)
    assert (counts["all"], counts["critical"]) == (1, 1)
    read_notices(actor=therapist, up_to=counts["last"])
    assert unread(therapist)["all"] == 0


def test_a_late_fact_that_is_held_is_told_to_the_lead() -> None:
    lead, therapist = a_lead(), a_therapist()
    recorded(therapist, an_episode(assigned_to=therapist), an_attempt(at=ago(days=9)))
    drain()
    assert told(lead) == ["entry.held"]


def test_a_critical_alert_that_was_struck_away_is_told_to_the_lead(alone: Any) -> None:
    therapist, episode, entry = alone
    lead = a_lead()
    recorded(therapist, episode, an_entry("struck_out", entry=str(entry), reason="another person's"))
    drain()
    assert "alert.struck_away" in told(lead)


# --- nobody answers ---------------------------------------------------------------------------------------------------


def test_what_nobody_answers_in_time_goes_to_the_lead_once(alone: Any, settings: Any) -> None:
    settings.CLOCK_CAN_BE_SET = True
    lead = a_lead()
    late = ago(minutes=-31)
    assert [escalate_alerts(late) for _ in range(2)] == [1, 0]  # 'alone' is critical; 'prerequisite' has a day
    with clock.at_instant(late):
        drain()
    assert told(lead).count("alert.escalated") == 1
    assert AlertStep.objects.filter(kind="escalated").count() == 1


def test_what_is_taken_back_when_its_time_is_over_goes_to_the_lead_at_once_and_again(alone: Any, settings: Any) -> None:
    settings.CLOCK_CAN_BE_SET = True
    therapist, episode, entry = alone
    lead = a_lead()
    for minutes in (31, 60):
        with clock.at_instant(ago(minutes=-minutes)):
            assert escalate_alerts(clock.now()) == 1
            drain()
            acknowledge(actor=therapist, episode_id=episode.pk, entry=entry, text="Knee charged.")
            assert escalate_alerts(clock.now()) == 0
            take_back(actor=therapist, episode_id=episode.pk, entry=entry, text="Meant for another alert.")
    assert told(lead).count("alert.escalated") == 2


def test_what_was_answered_is_not_escalated(alone: Any) -> None:
    therapist, episode, entry = alone
    acknowledge(actor=therapist, episode_id=episode.pk, entry=entry, text="Talked it over.")
    assert escalate_alerts(ago(days=-30)) == 0


def test_a_deadline_that_passed_is_told_like_any_alert() -> None:
    lead, therapist = a_lead(), a_therapist()
    recorded(therapist, an_episode(assigned_to=therapist), a_fall(at=ago(days=5)))
    scan_deadlines(now())
    drain()
    assert told(lead) == ["alert.raised"]
    assert Alert.objects.get().rule == "fall_unreviewed"


def test_a_lapsed_sign_off_is_seen_on_the_board_without_a_new_fact() -> None:
    lead = a_lead()
    episode = an_episode(opened=ago(days=400))
    signed = an_entry("sign_off", by=lead, at=ago(days=364), skill="don_check")
    imported(lead, episode, signed)
    assert Head.objects.get(episode=episode).board["skills"]["don_check"]["status"] == "signed_off"
    assert refresh_stale_boards(ago(days=-2)) == 1
    assert Head.objects.get(episode=episode).board["skills"]["don_check"]["status"] == "lapsed"


def test_the_bench_hears_of_a_request() -> None:
    from caseload.request.services import ask_adjustment

    bench, therapist = a_prosthetist(), a_therapist()
    episode = an_episode(assigned_to=therapist)
    ask_adjustment(actor=therapist, episode_id=episode.pk, setting="resistance", text="Too soft on the ramp.")
    drain()
    assert told(bench) == ["request.asked"]
