"""Somebody leaves: everything of theirs ends at once, and nobody in their hands is left without somebody unsaid."""

from __future__ import annotations

from datetime import datetime, timedelta

import pytest

from caseload.models import AdjustmentRequest, Assignment, Cover, Episode, Visit
from caseload.request.services import ask_adjustment
from checklists.alerts.handlers import tell_answered, tell_left
from checklists.leaving.selectors import leaving
from checklists.leaving.services import end_staff
from checklists.models import Notice
from clinic import clock
from clinic.access import Assurance
from clinic.errors import Conflict, Denied, Invalid, NotFound
from clinic.models import OutboxRow, Pin, Staff, StaffSession, TrailRow
from clinic.staff import sessions
from clinic.staff.models import Site
from tests.makers import (
    a_cover,
    a_fall,
    a_lead,
    a_pin,
    a_site,
    a_tablet,
    a_therapist,
    a_token,
    ago,
    an_attempt,
    an_episode,
    now,
    recorded,
)

pytestmark = pytest.mark.django_db
WHY = "moved to the coast"


def carrier(episode: Episode, at: datetime | None = None) -> Staff | None:
    row = Assignment.objects.filter(episode=episode, period__contains=at or clock.now()).first()
    return row.staff if row else None


def a_visit(episode: Episode, staff: Staff, *, days: int) -> Visit:
    site: Site = episode.site
    return Visit.objects.create(
        episode=episode, site=site, staff=staff, starts_at=now() + timedelta(days=days), minutes=45
    )


def test_everything_that_is_in_their_hands_is_shown_to_the_lead() -> None:
    lead, gone = a_lead(), a_pin(a_therapist())
    carried, covered, only_visit = an_episode(assigned_to=gone), an_episode(), an_episode()
    a_cover(covered, gone, start=ago(days=1), end=now() + timedelta(days=3))
    a_visit(carried, gone, days=2)
    a_visit(only_visit, gone, days=4)
    ask_adjustment(actor=gone, episode_id=carried.pk, setting="resistance", text="softer")
    recorded(gone, carried, an_attempt("stair_down", "none", at=ago(minutes=5)))
    recorded(gone, carried, a_fall(at=ago(days=20)))
    sessions.begin(gone, Assurance.PASSWORD, at=now())
    found = leaving(lead, gone.pk, at=now())
    by_key = {person.plan.episode_id: person for person in found.people}
    assert set(by_key) == {carried.pk, covered.pk, only_visit.pk}
    mine = by_key[carried.pk]
    assert (mine.plan.carries, mine.plan.visits, mine.plan.requests) == (True, 1, 1)
    assert mine.alerts > 0
    assert (by_key[covered.pk].plan.covers, by_key[covered.pk].plan.carries) == (True, False)
    assert by_key[only_visit.pk].plan.visits == 1
    assert (found.held, found.sessions, found.has_pin) == (1, 1, True)


def test_only_a_lead_sees_it_and_ends_anybody() -> None:
    gone, other = a_therapist(), a_therapist()
    with pytest.raises(NotFound):
        leaving(other, gone.pk, at=now())
    with pytest.raises((Denied, NotFound)):
        end_staff(actor=other, staff_id=gone.pk, reason=WHY)
    assert Staff.objects.get(pk=gone.pk).is_active


def test_without_a_word_about_somebody_in_their_hands_nothing_happens() -> None:
    lead, gone = a_lead(), a_therapist()
    episode = an_episode(assigned_to=gone)
    with pytest.raises(Conflict) as refusal:
        end_staff(actor=lead, staff_id=gone.pk, reason=WHY)
    assert refusal.value.reasons == (f"{episode.person.full_name}: nobody is named",)
    assert Staff.objects.get(pk=gone.pk).is_active
    assert carrier(episode) == gone


def test_one_colleague_takes_over_all_and_another_a_single_person() -> None:
    lead, gone, heir, other = a_lead(), a_therapist(), a_therapist(), a_therapist()
    first, second = an_episode(assigned_to=gone), an_episode(assigned_to=gone)
    visit = a_visit(first, gone, days=2)
    end_staff(actor=lead, staff_id=gone.pk, reason=WHY, to=heir.pk, each={second.pk: other.pk})
    assert (carrier(first), carrier(second)) == (heir, other)
    assert Visit.objects.get(pk=visit.pk).staff == heir
    assert Visit.objects.get(pk=visit.pk).version == 2
    assert WHY in Assignment.objects.get(episode=first, staff=heir).reason


def test_what_was_theirs_before_stays_theirs() -> None:
    lead, gone, heir = a_lead(), a_therapist(), a_therapist()
    episode = an_episode(assigned_to=gone)
    past = a_visit(episode, gone, days=-3)
    end_staff(actor=lead, staff_id=gone.pk, reason=WHY, to=heir.pk)
    assert Visit.objects.get(pk=past.pk).staff == gone
    assert carrier(episode, ago(days=1)) == gone


def test_a_cover_that_they_had_taken_on_is_handed_on_for_the_days_that_are_left() -> None:
    lead, gone, heir = a_lead(), a_therapist(), a_therapist()
    episode, own = an_episode(), an_episode(assigned_to=heir)
    end = now() + timedelta(days=3)
    a_cover(episode, gone, start=ago(days=1), end=end)
    a_cover(own, gone, start=ago(days=1), end=end)
    end_staff(actor=lead, staff_id=gone.pk, reason=WHY, to=heir.pk)
    taken = Cover.objects.get(episode=episode, staff=heir)
    assert taken.period.upper == end
    assert not Cover.objects.filter(staff=gone, period__contains=clock.now()).exists()
    assert not Cover.objects.filter(episode=own, staff=heir).exists()  # they carry this person themselves


def test_an_assignment_to_come_goes_to_the_colleague_on_its_day() -> None:
    lead, gone, heir, before = a_lead(), a_therapist(), a_therapist(), a_therapist()
    episode, start = an_episode(assigned_to=before), now() + timedelta(days=5)
    Assignment.objects.filter(episode=episode).update(period=(ago(days=60), start))
    Assignment.objects.create(episode=episode, staff=gone, period=(start, None), made_by=lead)
    end_staff(actor=lead, staff_id=gone.pk, reason=WHY, to=heir.pk)
    assert (carrier(episode), carrier(episode, start)) == (before, heir)


def test_left_to_nobody_is_said_in_the_trail_and_to_every_lead() -> None:
    lead, second, gone = a_lead(), a_lead(), a_therapist()
    episode = an_episode(assigned_to=gone)
    visit = a_visit(episode, gone, days=2)
    end_staff(actor=lead, staff_id=gone.pk, reason=WHY, nobody=True)
    assert carrier(episode) is None
    assert Visit.objects.get(pk=visit.pk).state == "planned"
    assert TrailRow.objects.filter(verb="episode.left_to_nobody", episode=episode.pk).count() == 1
    for _ in range(2):
        tell_left(OutboxRow.objects.get(topic="episode.left").payload, clock.now())
    assert set(Notice.objects.filter(topic="episode.left").values_list("staff", flat=True)) >= {lead.pk, second.pk}
    assert Notice.objects.filter(topic="episode.left", staff=second).count() == 1


def test_whoever_leaves_takes_over_nothing_and_neither_does_who_cannot_carry() -> None:
    lead, gone = a_lead(), a_therapist()
    an_episode(assigned_to=gone)
    for to in (gone.pk, lead.pk):
        with pytest.raises(Invalid):
            end_staff(actor=lead, staff_id=gone.pk, reason=WHY, to=to)
    assert Staff.objects.get(pk=gone.pk).is_active


def test_the_account_ends_everywhere_at_once() -> None:
    lead, gone = a_lead(), a_pin(a_therapist())
    a_token(gone)
    sessions.begin(gone, Assurance.PIN, at=now(), tablet=a_tablet())
    end_staff(actor=lead, staff_id=gone.pk, reason=WHY)
    end_staff(actor=lead, staff_id=gone.pk, reason="twice is once")
    assert not StaffSession.objects.filter(staff=gone, ended_at__isnull=True).exists()
    assert not Pin.objects.filter(staff=gone).exists()
    assert TrailRow.objects.filter(verb="staff.ended").count() == 1


def test_the_answer_to_their_request_reaches_whoever_carries_the_person_now() -> None:
    lead, gone, heir = a_lead(site=a_site()), a_therapist(), a_therapist()
    episode = an_episode(assigned_to=gone)
    asked = ask_adjustment(actor=gone, episode_id=episode.pk, setting="resistance", text="softer")
    end_staff(actor=lead, staff_id=gone.pk, reason=WHY, to=heir.pk)
    tell_answered({"request": str(asked.pk), "episode": str(episode.pk)}, clock.now())
    assert list(Notice.objects.filter(topic="request.answered").values_list("staff", flat=True)) == [heir.pk]
    assert AdjustmentRequest.objects.get(pk=asked.pk).asked_by == gone
