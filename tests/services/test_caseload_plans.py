"""Sessions, reviews, pauses, moves, devices, loads and the handover."""

from __future__ import annotations

from datetime import UTC, date, datetime, time, timedelta
from typing import Any
from uuid import UUID, uuid4

import pytest
from django.db import IntegrityError, connection
from django.test.utils import CaptureQueriesContext

from caseload.episode.handover import handover
from caseload.episode.selectors import plan
from caseload.episode.services import pause_episode, resume_episode, transfer_episode
from caseload.load.candidates import candidates_for, may_teach
from caseload.load.phase import DEFAULTS, Minutes
from caseload.load.selectors import loads
from caseload.load.services import set_load_weights
from caseload.models import Component, Cover, Episode, Pause, PlannedReview, Reminder, Visit
from caseload.prosthesis.selectors import devices
from caseload.prosthesis.services import edit_prosthesis, fit_component, register_prosthesis, remove_component
from caseload.review.due import due_state, due_words
from caseload.review.selectors import open_reviews, overdue_reviews
from caseload.review.services import cancel_review, plan_review, put_off_review
from caseload.review.steps import settle
from caseload.visit.selectors import visits_of_day
from caseload.visit.services import plan_visits, set_visit_state
from clinic import clock
from clinic.errors import Conflict, Denied, Invalid, NotFound, Stale
from tests.makers import (
    a_lead,
    a_person,
    a_prosthetist,
    a_site,
    a_therapist,
    an_assistant,
    an_authorisation,
    an_episode,
    now,
)

pytestmark = pytest.mark.django_db
DAY = timedelta(days=1)
TODAY = clock.local_day(clock.now(), "Europe/London")


# --- sessions ---------------------------------------------------------------------------------------------------------
def test_a_weekly_series_keeps_the_wall_clock_when_the_clocks_change() -> None:
    """In Europe/London the clocks go back on 25 Oct 2026 (tz database)."""
    mine = a_therapist()
    episode = an_episode(assigned_to=mine)
    visits = plan_visits(actor=mine, episode_id=episode.pk, day=date(2026, 10, 20), wall=time(10, 30), weeks=2)
    assert [visit.starts_at for visit in visits] == [
        datetime(2026, 10, 20, 9, 30, tzinfo=UTC),
        datetime(2026, 10, 27, 10, 30, tzinfo=UTC),
    ]


def test_the_same_person_twice_at_one_time_is_refused_and_nothing_of_the_series_planned() -> None:
    mine = a_therapist(name="Runa Achterling")
    episode = an_episode(assigned_to=mine)
    plan_visits(actor=mine, episode_id=episode.pk, day=TODAY + 7 * DAY, wall=time(9))
    with pytest.raises(Conflict, match="Runa Achterling already"):
        plan_visits(actor=mine, episode_id=episode.pk, day=TODAY, wall=time(9), weeks=3)
    assert Visit.objects.count() == 1


def test_a_cancelled_session_leaves_its_time_free() -> None:
    mine = a_therapist()
    episode = an_episode(assigned_to=mine)
    (visit,) = plan_visits(actor=mine, episode_id=episode.pk, day=TODAY + DAY, wall=time(9))
    set_visit_state(actor=mine, visit_id=visit.pk, version=1, state="cancelled")
    plan_visits(actor=mine, episode_id=episode.pk, day=TODAY + DAY, wall=time(9))
    with pytest.raises(Conflict):
        set_visit_state(actor=mine, visit_id=visit.pk, version=2, state="planned")


def test_an_assistant_says_who_came_but_cancels_nothing() -> None:
    mine = a_therapist()
    episode, helper = an_episode(assigned_to=mine), an_assistant(site=mine.site)
    (visit,) = plan_visits(actor=mine, episode_id=episode.pk, day=TODAY, wall=time(0, 5))
    assert set_visit_state(actor=helper, visit_id=visit.pk, version=1, state="came").state == "came"
    with pytest.raises(Denied):
        set_visit_state(actor=helper, visit_id=visit.pk, version=2, state="cancelled")


def test_two_who_write_one_session_down_the_second_is_told() -> None:
    mine = a_therapist()
    episode = an_episode(assigned_to=mine)
    (visit,) = plan_visits(actor=mine, episode_id=episode.pk, day=TODAY, wall=time(0, 5))
    set_visit_state(actor=mine, visit_id=visit.pk, version=1, state="missed")
    with pytest.raises(Stale) as caught:
        set_visit_state(actor=a_lead(), visit_id=visit.pk, version=1, state="came")
    assert "missed" in caught.value.reasons[0]


@pytest.mark.parametrize(
    "wrong", [{"weeks": 0}, {"weeks": 27}, {"minutes": 4}, {"minutes": 481}, {"staff_id": uuid4()}]
)
def test_sessions_that_make_no_sense_are_refused(wrong: dict[str, Any]) -> None:
    mine = a_therapist()
    episode = an_episode(assigned_to=mine)
    with pytest.raises((Invalid, IntegrityError)) as caught:
        plan_visits(actor=mine, episode_id=episode.pk, day=TODAY, wall=time(9), **wrong)
    assert caught.type is Invalid
    assert not Visit.objects.exists()


def test_who_comes_today_is_of_the_site_or_the_therapist_asked_for() -> None:
    mine, other = a_therapist(), a_therapist(site=a_site("Quay Street"))
    for staff, name in ((mine, "Maro"), (other, "Ines")):
        episode = an_episode(assigned_to=staff, person=a_person(given_name=name, site=staff.site))
        plan_visits(actor=staff, episode_id=episode.pk, day=TODAY, wall=time(12))
    ask: Any = {"at": clock.now(), "zone": "Europe/London"}
    lead = a_lead()
    found = (
        visits_of_day(lead, TODAY, **ask),
        visits_of_day(lead, TODAY, site_id=other.site_id, **ask),
        visits_of_day(lead, TODAY, staff_id=mine.pk, **ask),
        visits_of_day(mine, TODAY, **ask),
        visits_of_day(lead, TODAY + DAY, **ask),
    )
    assert [sorted(row.person.split()[0] for row in rows) for rows in found] == [
        ["Ines", "Maro"],
        ["Ines"],
        ["Maro"],
        ["Maro"],
        [],
    ]


# --- reviews ----------------------------------------------------------------------------------------------------------
@pytest.mark.parametrize(
    ("days", "state", "words"),
    [
        (8, "planned", "in 8 days"),
        (7, "due_soon", "in 7 days"),
        (1, "due_soon", "in 1 day"),
        (0, "due", "due today"),
        (-1, "overdue", "1 day overdue"),
    ],
)
def test_a_review_is_due_on_its_day_and_overdue_from_the_next(days: int, state: str, words: str) -> None:
    assert (due_state(TODAY + days * DAY, TODAY), due_words(TODAY + days * DAY, TODAY)) == (state, words)


def test_overdue_reviews_say_how_late_who_carries_and_how_far_the_reminders_are() -> None:
    mine = a_therapist(name="Runa Achterling")
    episode = an_episode(assigned_to=mine)
    row = PlannedReview.objects.create(
        episode=episode, due_on=TODAY - 7 * DAY, planned_by=mine, planned_at=now() - 30 * DAY
    )
    Reminder.objects.create(review=row, due_on=row.due_on, rung="overdue", reached_at=now())
    plan_review(actor=mine, episode_id=episode.pk, due_on=TODAY + DAY)
    (late,) = overdue_reviews(a_lead(), at=clock.now())
    assert (late.words, late.therapist, late.reminded) == ("7 days overdue", "Runa Achterling", "overdue")
    assert len(open_reviews(mine, at=clock.now())) == 2


def test_a_review_is_put_off_with_a_reason_and_the_second_who_does_is_told() -> None:
    mine = a_therapist(name="Runa Achterling")
    row = plan_review(actor=mine, episode_id=an_episode(assigned_to=mine).pk, due_on=TODAY)
    put_off_review(actor=mine, review_id=row.pk, version=1, due_on=TODAY + 5 * DAY, reason="Skin is sore.")
    with pytest.raises(Stale) as caught:
        cancel_review(actor=a_lead(), review_id=row.pk, version=1, reason="Not needed.")
    assert "Runa Achterling" in caught.value.reasons[0]


def test_a_review_is_not_planned_for_a_day_that_has_passed() -> None:
    mine = a_therapist()
    with pytest.raises(Invalid):
        plan_review(actor=mine, episode_id=an_episode(assigned_to=mine).pk, due_on=TODAY - 2 * DAY)
    assert not PlannedReview.objects.exists()


def settled(episode: Episode, entry: UUID, *, falls: bool, waits: bool = False, days: int = 0) -> list[tuple[str, int]]:
    mine = episode.assignments.get().staff
    day = TODAY + days * DAY
    done = settle(episode.pk, actor=mine, entry=entry, done_at=now(), at=now(), day=day, falls=falls, waits=waits)
    return [(one.kind, (one.due_on - TODAY).days) for one in done]


def test_a_recorded_review_settles_the_earliest_plan_of_its_kind_once() -> None:
    mine = a_therapist()
    episode, fact = an_episode(assigned_to=mine), uuid4()
    for kind, days in (("routine", 9), ("fall", 3), ("routine", 5)):
        plan_review(actor=mine, episode_id=episode.pk, due_on=TODAY + days * DAY, kind=kind)
    assert settled(episode, fact, falls=True) == [("fall", 3)]
    assert settled(episode, fact, falls=True) == []
    assert settled(episode, uuid4(), falls=True) == [], "a routine review of a day to come stays planned"
    assert settled(episode, uuid4(), falls=False) == [("routine", 5)]
    assert settled(episode, uuid4(), falls=False) == [], "in nine days: not yet due soon"


def test_a_recorded_review_settles_everything_that_was_due_by_then() -> None:
    mine = a_therapist()
    episode = an_episode(assigned_to=mine)
    for days in (0, 2, 9):
        plan_review(actor=mine, episode_id=episode.pk, due_on=TODAY + days * DAY)
    assert settled(episode, uuid4(), falls=False, days=3) == [("routine", 0), ("routine", 2)]


def test_a_review_of_no_fall_settles_the_look_after_one_once_no_fall_waits() -> None:
    mine = a_therapist()
    episode = an_episode(assigned_to=mine)
    plan_review(actor=mine, episode_id=episode.pk, due_on=TODAY + 2 * DAY, kind="fall")
    assert settled(episode, uuid4(), falls=False, waits=True, days=2) == []
    assert settled(episode, uuid4(), falls=False, days=2) == [("fall", 2)]


def test_the_same_review_planned_twice_stands_once() -> None:
    mine = a_therapist()
    episode = an_episode(assigned_to=mine)
    rows = {plan_review(actor=mine, episode_id=episode.pk, due_on=TODAY + DAY).pk for _ in range(2)}
    assert PlannedReview.objects.count() == len(rows) == 1


# --- pauses and moves -------------------------------------------------------------------------------------------------
def test_a_pause_shows_in_the_plan_until_they_are_back() -> None:
    mine = a_therapist()
    episode = an_episode(assigned_to=mine)
    pause_episode(actor=mine, episode_id=episode.pk, reason="In hospital.")
    rests = [plan(mine, episode.pk, at=clock.now()).rests]
    resume_episode(actor=mine, episode_id=episode.pk)
    assert [*rests, plan(mine, episode.pk, at=clock.now()).rests] == [True, False]


def test_two_pauses_at_once_are_refused_by_the_database_and_in_words() -> None:
    mine = a_therapist()
    episode = an_episode(assigned_to=mine)
    pause_episode(actor=mine, episode_id=episode.pk, reason="In hospital.", back_on=TODAY + 9 * DAY)
    with pytest.raises(Conflict, match="paused already, from"):
        pause_episode(actor=mine, episode_id=episode.pk, reason="Away.", first_day=TODAY + 3 * DAY)
    with pytest.raises(IntegrityError, match="pause_one_at_a_time"):
        Pause.objects.create(episode=episode, period=(TODAY, None), reason="Away.")


def test_a_move_takes_person_and_episode_to_the_other_sites_assistant() -> None:
    episode, there = an_episode(), an_assistant(site=a_site("Quay Street"))
    with pytest.raises(NotFound):
        plan(there, episode.pk, at=clock.now())
    transfer_episode(actor=a_lead(), episode_id=episode.pk, version=1, site_id=there.site_id, reason="Lives there now.")
    assert plan(there, episode.pk, at=clock.now()).site == "Quay Street"


def test_a_move_made_from_an_old_page_is_refused() -> None:
    episode, lead = an_episode(), a_lead()
    sites = [a_site("Quay Street"), a_site("Alder Reach")]
    transfer_episode(actor=lead, episode_id=episode.pk, version=1, site_id=sites[0].pk, reason="Lives there now.")
    with pytest.raises(Stale):
        transfer_episode(actor=lead, episode_id=episode.pk, version=1, site_id=sites[1].pk, reason="Back.")


# --- devices ----------------------------------------------------------------------------------------------------------
def test_a_new_foot_ends_the_old_one_on_the_same_day() -> None:
    bench, episode = a_prosthetist(), an_episode()
    device = register_prosthesis(actor=bench, episode_id=episode.pk, side="left", label="Day leg")
    for name, days in (("trial foot", -20), ("foot, size 25", -2)):
        fit_component(actor=bench, prosthesis_id=device.pk, kind="foot", description=name, since=TODAY + days * DAY)
    (shown,) = devices(bench, episode.pk, at=clock.now())
    assert [(part.description, part.worn, part.last_day) for part in shown.parts] == [
        ("foot, size 25", True, None),
        ("trial foot", False, TODAY - 3 * DAY),
    ]


def test_a_part_from_before_the_one_that_is_worn_is_refused() -> None:
    bench, episode = a_prosthetist(), an_episode()
    device = register_prosthesis(actor=bench, episode_id=episode.pk, side="left", label="Day leg")
    fit_component(actor=bench, prosthesis_id=device.pk, kind="knee", description="knee A", since=TODAY)
    with pytest.raises(Conflict, match="knee A"):
        fit_component(actor=bench, prosthesis_id=device.pk, kind="knee", description="B", since=TODAY - DAY)
    assert Component.objects.count() == 1


def test_a_part_can_be_taken_off_and_the_register_corrected() -> None:
    bench, episode = a_prosthetist(), an_episode()
    device = register_prosthesis(actor=bench, episode_id=episode.pk, side="left", label="Day leg")
    part = fit_component(actor=bench, prosthesis_id=device.pk, kind="liner", description="liner", since=TODAY - DAY)
    remove_component(actor=bench, prosthesis_id=device.pk, component_id=part.pk)
    edit_prosthesis(
        actor=bench, prosthesis_id=device.pk, version=1, label="Day leg", resistance_low=1, resistance_high=12
    )
    (shown,) = devices(bench, episode.pk, at=clock.now())
    assert (shown.resistance_high, [part.worn for part in shown.parts]) == (12, [False])


def test_a_prosthesis_on_the_other_side_or_twice_is_refused_and_no_therapist_keeps_the_register() -> None:
    bench, mine = a_prosthetist(), a_therapist()
    episode = an_episode(assigned_to=mine)
    with pytest.raises(Invalid):
        register_prosthesis(actor=bench, episode_id=episode.pk, side="right", label="Day leg")
    register_prosthesis(actor=bench, episode_id=episode.pk, side="left", label="Day leg")
    with pytest.raises(Conflict):
        register_prosthesis(actor=bench, episode_id=episode.pk, side="left", label="Day leg")
    with pytest.raises(Denied):
        register_prosthesis(actor=mine, episode_id=episode.pk, side="left", label="Day leg")


# --- loads ------------------------------------------------------------------------------------------------------------
def test_load_counts_each_phase_by_the_clinics_weights_and_two_prostheses_more() -> None:
    mine, lead = a_therapist(minutes_per_week=600), a_lead()
    set_load_weights(actor=lead, weights={"new": Minutes(100, 40), "training": Minutes(60, 20), "paused": Minutes(3)})
    an_episode(assigned_to=mine, opened=now() - 10 * DAY, side="both")
    training = an_episode(assigned_to=mine)
    plan_visits(actor=mine, episode_id=training.pk, day=TODAY + 3 * DAY, wall=time(9))
    an_episode(assigned_to=mine)
    pause_episode(actor=mine, episode_id=an_episode(assigned_to=mine).pk, reason="Away.")
    (load,) = loads(lead, at=clock.now())
    assert (load.people, load.minutes, load.capacity) == (4, 140 + 60 + DEFAULTS["keeping"].one + 3, 600)


def test_a_cover_in_force_counts_for_whoever_stands_in_and_is_said_of_both() -> None:
    mine, cover = a_therapist(name="Runa Achterling"), a_therapist(name="Lucie Amberwick")
    episode = an_episode(assigned_to=mine)
    Cover.objects.create(episode=episode, staff=cover, period=(now() - DAY, now() + 3 * DAY), made_by=mine)
    lucie, runa = loads(a_lead(), at=clock.now())
    assert (lucie.covered, lucie.covers_people, runa.covered) == (DEFAULTS["keeping"].one, 1, 0)
    assert lucie.notes[0].startswith("covers Runa Achterling (1 person), ")
    assert runa.notes[0].startswith("covered by Lucie Amberwick (1 person), ")


def test_candidates_show_the_load_after_and_who_lacks_an_authorisation_comes_last() -> None:
    able = a_therapist(name="Able", minutes_per_week=100)
    for name, expires in (("Expired", TODAY - DAY), ("Never", None)):
        staff = a_therapist(name=name, authorised=["lock"], minutes_per_week=900)
        if expires:
            an_authorisation(staff, "free_swing", expires_on=expires)
    a_therapist(name="Unregistered", registered=False)
    lead = a_lead()
    found = candidates_for(lead, knee=["lock", "free_swing"], side="left", site_id=able.site_id, at=clock.now())
    assert found[0].load.name == "Able"
    assert {one.load.name: one.lacks for one in found} == {
        "Able": (),
        "Unregistered": ("registration",),
        "Expired": ("free swing",),
        "Never": ("free swing",),
    }
    assert (found[0].after, found[0].over) == (DEFAULTS["new"].one, DEFAULTS["new"].one - 100)
    assert may_teach(loads(lead, at=clock.now()), ["lock", "free_swing"], at=now()) == ["Able"]


def test_loads_cost_the_same_however_large_the_clinic() -> None:
    lead, counts = a_lead(), []
    for _ in range(2):
        for _ in range(3):
            an_episode(assigned_to=a_therapist())
        with CaptureQueriesContext(connection) as caught:
            loads(lead, at=clock.now())
        counts.append(len(caught))
    assert counts[0] >= counts[1]


def test_only_who_shares_the_caseload_out_sees_loads() -> None:
    with pytest.raises(Denied):
        loads(a_therapist(), at=clock.now())


@pytest.mark.parametrize("weights", [{"asleep": Minutes(1)}, {"new": Minutes(-1)}, {"new": Minutes(20_000)}])
def test_weights_that_cannot_be_are_refused(weights: dict[str, Minutes]) -> None:
    with pytest.raises(Invalid):
        set_load_weights(actor=a_lead(), weights=weights)


# --- handover ---------------------------------------------------------------------------------------------------------
def test_a_covering_colleague_gets_the_handover_of_those_whom_they_cover_and_no_others() -> None:
    mine, cover = a_therapist(), a_therapist()
    episode = an_episode(assigned_to=mine, person=a_person(given_name="Maro"))
    an_episode(assigned_to=mine, person=a_person(given_name="Ines"))
    Cover.objects.create(episode=episode, staff=cover, period=(now() - DAY, now() + DAY), made_by=mine)
    plan_visits(actor=mine, episode_id=episode.pk, day=TODAY + DAY, wall=time(9))
    plan_review(actor=mine, episode_id=episode.pk, due_on=TODAY + 4 * DAY)
    whose = [[one.name.split()[0] for one in handover(who, mine.pk, at=clock.now())] for who in (mine, cover)]
    assert [sorted(names) for names in whose] == [["Ines", "Maro"], ["Maro"]]
    (row,) = handover(cover, mine.pk, at=clock.now())
    assert (len(row.visits), [review.words for review in row.reviews]) == (1, ["in 4 days"])


def test_a_handover_costs_the_same_however_many_people() -> None:
    mine, counts = a_therapist(), []
    for _ in range(2):
        for _ in range(3):
            an_episode(assigned_to=mine)
        with CaptureQueriesContext(connection) as caught:
            handover(mine, mine.pk, at=clock.now())
        counts.append(len(caught))
    assert counts[0] >= counts[1]
    assert Episode.objects.count() == 6
