"""Today: whom each role sees, what each line says, and that a full day costs no more questions than an empty one."""

from __future__ import annotations

from collections.abc import Callable
from datetime import timedelta
from typing import Any

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext

from caseload.models import Episode, PlannedReview, Visit
from clinic.staff.models import Staff
from clinic.staff.roles import Role
from tests.makers import (
    a_check,
    a_cover,
    a_fall,
    a_lead,
    a_person,
    a_prosthetist,
    a_site,
    a_staff,
    a_therapist,
    ago,
    an_assistant,
    an_attempt,
    an_entry,
    an_episode,
    imported,
    now,
    recorded,
    stamp,
)
from tests.web.pages import page

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("at_noon")]
Enter = Callable[[Staff], Client]


def a_visit(episode: Episode, staff: Staff, **fields: Any) -> Visit:
    """Somebody comes today."""
    taken = Visit.objects.filter(episode=episode).count()
    begins = now() + timedelta(seconds=taken)
    return Visit.objects.create(episode=episode, site=episode.site, staff=staff, starts_at=begins, **fields)


def test_a_therapist_sees_who_of_theirs_comes_today_with_both_identifiers(enter: Enter) -> None:
    runa, other = a_therapist(), a_therapist()
    ines = an_episode(assigned_to=runa, person=a_person(given_name="Ines", family_name="Vartholm"))
    corin = an_episode(assigned_to=other, person=a_person(given_name="Corin", family_name="Ashgrove"))
    a_visit(ines, runa)
    a_visit(corin, other)
    seen = page(enter(runa))
    assert "Ines Vartholm" in seen
    assert ines.person.number in seen
    assert ines.person.second_identifier in seen
    assert "Corin Ashgrove" not in seen


def test_before_a_seated_skill_it_is_said_that_the_session_begins_with_the_start_check(
    enter: Enter, runa: Staff, ines: Episode
) -> None:
    """No rule asks for it before somebody sits and puts the prosthesis on; the Floor begins with it all the same."""
    a_visit(ines, runa)
    client = enter(runa)
    assert "Nothing besides the start check" in page(client)
    recorded(runa, ines, an_entry("session_opened", at=ago(minutes=2)), a_check(at=ago(minutes=1)))
    seen = page(client)
    assert "Nothing besides the start check" not in seen
    assert "Nothing open" in seen


def test_whom_one_covers_stands_on_ones_own_sheet(enter: Enter) -> None:
    runa, other = a_therapist(), a_therapist()
    corin = an_episode(assigned_to=other, person=a_person(given_name="Corin", family_name="Ashgrove"))
    a_visit(corin, other)
    a_cover(corin, runa, start=ago(days=1), end=None)
    assert "Corin Ashgrove" in page(enter(runa))


def test_with_whom_somebody_comes_names_who_stands_in(enter: Enter) -> None:
    """A plan that still names who is away leads nobody to them."""
    jonas, lucie = a_therapist(name="Jonas Wexthorn"), a_therapist(name="Lucie Amberwick")
    covered, moved = an_episode(assigned_to=jonas), an_episode(assigned_to=jonas)
    a_visit(covered, jonas)
    a_visit(moved, lucie)
    reader = an_assistant(site=covered.site)
    seen = page(enter(reader))
    assert seen.count("with Jonas Wexthorn") == 1
    for episode in (covered, moved):
        a_cover(episode, lucie, start=ago(days=1), end=ago(days=-1))
    seen = page(enter(reader))
    assert seen.count("with Lucie Amberwick, for Jonas Wexthorn") == 1
    assert seen.count("with Lucie Amberwick") == 2


def test_an_assistant_sees_everybody_who_comes_to_their_site(enter: Enter) -> None:
    quay = a_site("Quay Street")
    here, there = an_episode(), an_episode(site=quay, assigned_to=a_therapist(site=quay))
    for episode in (here, there):
        a_visit(episode, a_therapist(site=episode.site))
    seen = page(enter(an_assistant()))
    assert here.person.number in seen
    assert there.person.number not in seen


@pytest.mark.parametrize(("role", "address"), [(Role.PROSTHETIST, "/bench/"), (Role.RECORDS_OFFICER, "/trail/")])
def test_who_does_not_work_in_the_gym_is_led_to_their_own_page(enter: Enter, role: str, address: str) -> None:
    answer = enter(a_staff(role)).get("/")
    assert (answer.status_code, answer.headers["Location"]) == (302, address)


def test_what_is_ready_leads_to_the_sign_off_for_whoever_may_sign_and_is_only_said_to_others(enter: Enter) -> None:
    runa = a_therapist()
    ines = an_episode(assigned_to=runa)
    a_visit(ines, runa)
    for days in (3, 2, 2):
        recorded(runa, ines, an_attempt("don_check", "none", help="watching", at=ago(days=days)))
    signing = f"/people/{ines.pk}/sign-off/don_check/"
    assert signing in page(enter(runa))
    seen = page(enter(an_assistant()))
    assert "ready for a signature" in seen
    assert signing not in seen


def test_a_lead_sees_the_day_and_the_alerts_on_top(enter: Enter) -> None:
    runa = a_therapist()
    ines = an_episode(assigned_to=runa, person=a_person(given_name="Ines", family_name="Vartholm"))
    locked = an_entry("mode_set", mode="locked", at=ago(minutes=2))
    recorded(runa, ines, {**a_check(), "at": stamp(ago(minutes=3))}, locked, an_attempt("stand_load"))
    seen = page(enter(a_lead()))
    assert "1 critical alert.</b> Ines Vartholm: lock not verified." in seen


def test_what_is_next_comes_with_its_reason(enter: Enter) -> None:
    runa = a_therapist()
    a_visit(an_episode(assigned_to=runa), runa)
    seen = page(enter(runa))
    assert "Putting on, skin and fit, no support" in seen
    assert "0 of 3 safe attempts in a row, on 2 days" in seen


def test_a_check_that_was_not_good_is_told_next_time(enter: Enter, runa: Staff, ines: Episode) -> None:
    a_visit(ines, runa)
    first = [a_check(bad=["fit"], at=ago(days=3, hours=1)), an_attempt("sit_stand", at=ago(days=3))]
    ends = [a_check("end_of_session", bad=["skin"], at=ago(days=2)), a_check("end_of_session", at=ago(days=1))]
    recorded(runa, ines, *first, *ends)
    seen = page(enter(runa))
    assert "End check: skin not good" in seen
    assert "fit not good" not in seen, "what was before the last attempt is over"
    assert seen.count("End check:") == 1, "a good one is no news"


def test_what_changed_since_last_time_is_told_with_who_and_when(enter: Enter) -> None:
    runa, ebo = a_therapist(), a_prosthetist(name="Ebo Lanterne")
    ines = an_episode(assigned_to=runa)
    a_visit(ines, runa)
    before = {**an_attempt("don_check", "none"), "by": runa.reference, "at": stamp(ago(days=3))}
    change = {"setting": "resistance", "from": "4", "to": "5"}
    imported(runa, ines, before, an_entry("setting_changed", by=ebo, at=ago(days=2), **change))
    assert "Resistance 4 to 5" in page(enter(runa))
    assert "Ebo Lanterne" in page(enter(runa))


def test_what_came_before_the_last_session_is_no_news(enter: Enter) -> None:
    runa, ebo = a_therapist(), a_prosthetist()
    ines = an_episode(assigned_to=runa)
    a_visit(ines, runa)
    change = an_entry("setting_changed", by=ebo, at=ago(days=4), setting="resistance", to="5")
    after = {**an_attempt("don_check", "none"), "by": runa.reference, "at": stamp(ago(days=3))}
    imported(runa, ines, change, after)
    assert "Nothing new" in page(enter(runa))


def test_an_overdue_review_is_said_in_words(enter: Enter) -> None:
    runa = a_therapist()
    ines = an_episode(assigned_to=runa)
    a_visit(ines, runa)
    PlannedReview.objects.create(
        episode=ines, due_on=now().date() - timedelta(days=7), planned_by=runa, planned_at=ago(days=30)
    )
    seen = page(enter(runa))
    assert "is-overdue" in seen
    assert "<dt>Reviews overdue</dt><dd>1</dd>" in seen
    assert "Sign-offs lapsed" not in seen, "none is"


def test_a_fall_that_nobody_reviewed_is_the_first_thing_to_check(enter: Enter) -> None:
    runa = a_therapist()
    ines = an_episode(assigned_to=runa)
    a_visit(ines, runa)
    recorded(runa, ines, {**a_fall(skill="stand_load"), "at": stamp(ago(days=1))})
    assert "has not been reviewed" in page(enter(runa))


def test_falls_to_review_are_counted_on_top_and_lead_to_the_first_of_them(enter: Enter) -> None:
    runa = a_therapist()
    well, fell, fell_twice = (an_episode(assigned_to=runa) for _number in range(3))
    for episode in (well, fell, fell_twice):
        a_visit(episode, runa)
    recorded(runa, fell, a_fall(at=ago(days=1)))
    recorded(runa, fell_twice, a_fall(at=ago(days=1)), a_fall(at=ago(days=2)))
    a_visit(fell_twice, runa)  # whoever comes twice has fallen no more often
    seen = page(enter(runa))
    assert '<dt>Falls to review</dt><dd><a href="#first-fall">3<' in seen
    assert seen.count('id="first-fall"') == 1
    first = seen.split('id="first-fall"')[1].split("</li> <li class=")[0]
    assert "Fall to review" in first or "2 falls to review" in first
    assert "2 falls to review" in seen
    assert "<dt>Falls to review, by their therapist</dt>" in page(enter(an_assistant(site=fell.site)))


def test_without_a_fall_to_review_none_is_counted(enter: Enter) -> None:
    runa = a_therapist()
    a_visit(an_episode(assigned_to=runa), runa)
    seen = page(enter(runa))
    assert "Falls to review" not in seen
    assert "first-fall" not in seen


def test_papers_that_run_out_are_said_on_top(enter: Enter) -> None:
    runa = a_therapist()
    runa.registrations.update(expires_on=now().date() + timedelta(days=9))
    assert "Your registration ends" in page(enter(runa))


def test_a_session_that_is_open_stands_out_and_leads_to_the_floor(enter: Enter) -> None:
    runa = a_therapist()
    ines = an_episode(assigned_to=runa)
    a_visit(ines, runa)
    recorded(runa, ines, an_entry("session_opened"))
    seen = page(enter(runa))
    assert "in the gym" in seen
    assert f'href="/floor/{ines.pk}/"' in seen


def test_a_day_without_anybody_says_so(enter: Enter) -> None:
    assert "Nobody is planned for today" in page(enter(a_therapist()))


def test_thresholds_defer_to_local_policy(enter: Enter) -> None:
    assert "local policy and licensed practice" in page(enter(a_therapist()))


def test_ten_people_cost_no_more_statements_than_one(enter: Enter) -> None:
    runa = a_therapist()
    client = enter(runa)
    a_visit(an_episode(assigned_to=runa), runa)
    page(client)
    with CaptureQueriesContext(connection) as one:
        page(client)
    for _ in range(9):
        a_visit(an_episode(assigned_to=runa), runa)
    with CaptureQueriesContext(connection) as ten:
        page(client)
    assert len(ten) <= len(one)


def test_who_is_next_by_the_clock_is_named_at_the_head_wherever_they_stand(enter: Enter) -> None:
    runa = a_therapist()
    late, soon = an_episode(assigned_to=runa), an_episode(assigned_to=runa)
    for episode, minutes in ((late, -40), (soon, 20)):
        begins = now() + timedelta(minutes=minutes)
        Visit.objects.create(episode=episode, site=episode.site, staff=runa, starts_at=begins)
    seen = page(enter(runa))
    assert f"Next by the clock: <b>{soon.person.full_name}</b>" in seen
    assert seen.index("Planned time past, not begun") < seen.index('id="next"')
    assert "0 of 25 signed off" in seen
