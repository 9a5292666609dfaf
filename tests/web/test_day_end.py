"""The end of the day: each kind of line comes, leads to where it is settled, and goes when it is."""

from __future__ import annotations

import re
from collections.abc import Callable
from datetime import timedelta

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from caseload.models import Episode, PlannedReview, Visit
from caseload.words import instant_words
from checklists.alerts.models import Alert
from checklists.alerts.services import acknowledge
from clinic import clock
from clinic.staff.models import Staff
from clinic.staff.roles import Role
from tests.makers import (
    a_check,
    a_fall,
    a_lead,
    a_person,
    a_site,
    a_staff,
    a_therapist,
    ago,
    an_assistant,
    an_attempt,
    an_entry,
    an_episode,
    recorded,
    stamp,
)
from tests.web.pages import page
from tests.web.test_today_page import a_visit

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("at_noon")]
Enter = Callable[[Staff], Client]
EMPTY = "Nothing is left open on the record"


@pytest.fixture
def ines(runa: Staff) -> Episode:
    """Somebody who comes today."""
    episode = an_episode(assigned_to=runa, person=a_person(given_name="Ines", family_name="Vartholm"))
    a_visit(episode, runa)
    return episode


def at(minutes: float) -> dict[str, str]:
    """So many minutes ago."""
    return {"at": stamp(ago(minutes=minutes))}


def lines(client: Client, part: str) -> list[tuple[str, str]]:
    """Address and words of each line of a part."""
    seen = page(client, "/day-end/")
    inside = re.search(rf'data-part="{part}".*?</section>', seen)
    assert inside
    found = re.findall(r'<li><a href="([^"]+)">.*?class="open-what">(.*?)</span>', inside[0])
    return [(link, text) for link, text in found]


def not_begun(episode: Episode, staff: Staff, minutes: int = 1) -> Visit:
    """A session that was planned for so many minutes ago."""
    return Visit.objects.create(episode=episode, site=episode.site, staff=staff, starts_at=ago(minutes=minutes))


def closed_well(runa: Staff, ines: Episode) -> None:
    """A whole session with both checks; walking mode proven last."""
    start, end = {**a_check(), **at(9)}, {**a_check("end_of_session"), **at(2)}
    recorded(runa, ines, {**an_entry("session_opened"), **at(10)}, start, end, {**an_entry("session_closed"), **at(1)})


def test_an_empty_list_says_so_kindly(enter: Enter, runa: Staff, ines: Episode) -> None:
    closed_well(runa, ines)
    seen = page(enter(runa), "/day-end/")
    assert EMPTY in seen
    assert "Have a good evening" in seen


def test_a_skill_that_is_ready_leads_to_its_signing_and_goes_with_the_evidence(
    enter: Enter, runa: Staff, ines: Episode
) -> None:
    for days in (3, 2, 2):
        recorded(runa, ines, an_attempt("don_check", "none", help="watching", at=ago(days=days)))
    client = enter(runa)
    assert [link for link, _ in lines(client, "unsigned")] == [f"/people/{ines.pk}/sign-off/don_check/"]
    assert EMPTY not in page(client, "/day-end/")
    recorded(runa, ines, {**an_attempt("don_check", "none", help="watching", result="unsafe"), **at(5)})
    assert lines(client, "unsigned") == []


def test_whoever_may_not_sign_is_led_to_the_person(enter: Enter, runa: Staff, ines: Episode) -> None:
    for days in (3, 2, 2):
        recorded(runa, ines, an_attempt("don_check", "none", help="watching", at=ago(days=days)))
    assert [link for link, _ in lines(enter(an_assistant()), "unsigned")] == [f"/people/{ines.pk}/"]


def test_a_session_that_is_open_leads_to_the_floor_until_it_is_closed(enter: Enter, runa: Staff, ines: Episode) -> None:
    recorded(runa, ines, {**an_entry("session_opened"), **at(10)}, {**a_check(), **at(9)})
    client = enter(runa)
    ((link, text),) = lines(client, "unproven")
    assert link == f"/floor/{ines.pk}/"
    assert "still open" in text
    recorded(runa, ines, {**a_check("end_of_session"), **at(2)}, {**an_entry("session_closed"), **at(1)})
    assert lines(client, "unproven") == []


def test_a_missing_end_check_is_said_until_it_is_made(enter: Enter, runa: Staff, ines: Episode) -> None:
    opened, closed = {**an_entry("session_opened"), **at(10)}, {**an_entry("session_closed"), **at(5)}
    recorded(runa, ines, opened, {**a_check(), **at(9)}, closed)
    client = enter(runa)
    ((link, text),) = lines(client, "unproven")
    assert text.endswith(": no end check. If it was made, enter it.")
    assert link == f"/people/{ines.pk}/paper/enter/#end-check"
    assert 'id="end-check"' in client.get(link).content.decode()
    recorded(runa, ines, {**a_check("end_of_session"), **at(1)})
    assert lines(client, "unproven") == []


def test_skin_that_was_not_good_at_the_end_is_said_until_a_later_start_check_finds_it_good(
    enter: Enter, runa: Staff, ines: Episode
) -> None:
    opened, closed = {**an_entry("session_opened"), **at(20)}, {**an_entry("session_closed"), **at(15)}
    recorded(runa, ines, opened, {**a_check(), **at(19)}, {**a_check("end_of_session", bad=["skin"]), **at(16)}, closed)
    client = enter(runa)
    ((link, text),) = lines(client, "unproven")
    assert "end check not good. Skin: no weight on this socket until a therapist has looked at it." in text
    assert link == f"/floor/{ines.pk}/"
    again, end = {**an_entry("session_opened"), **at(9)}, {**a_check("end_of_session"), **at(2)}
    recorded(runa, ines, again, {**a_check(), **at(8)}, end, {**an_entry("session_closed"), **at(1)})
    assert lines(client, "unproven") == []


def test_a_missing_start_check_is_said(enter: Enter, runa: Staff, ines: Episode) -> None:
    end = {**a_check("end_of_session"), **at(4)}
    recorded(runa, ines, {**an_entry("session_opened"), **at(10)}, end, {**an_entry("session_closed"), **at(3)})
    ((link, text),) = lines(enter(runa), "unproven")
    assert link == f"/people/{ines.pk}/paper/enter/#start-check"
    assert 'id="start-check"' in enter(runa).get(link).content.decode(), "the row of the sheet that is wanting"
    assert text.endswith("no start check. If it was made, enter it.")


def test_a_mode_that_was_set_and_not_proven_stays_until_the_lock_cycle_is_complete(
    enter: Enter, runa: Staff, ines: Episode
) -> None:
    closed_well(runa, ines)
    client = enter(runa)
    recorded(runa, ines, {**an_entry("mode_set", mode="locked"), **at(0.9)})
    assert "set to locked" in lines(client, "unproven")[0][1]
    recorded(runa, ines, {**a_check("lock_in"), **at(0.8)})
    assert "way back to walking is not completed" in lines(client, "unproven")[0][1]
    recorded(runa, ines, {**an_entry("mode_set", mode="walking"), **at(0.7)})
    assert "set to walking" in lines(client, "unproven")[0][1]
    recorded(runa, ines, {**a_check("lock_out"), **at(0.6)})
    assert lines(client, "unproven") == []


def test_an_alert_leads_to_its_answer_and_goes_with_it(enter: Enter, runa: Staff, ines: Episode) -> None:
    locked = {**an_entry("mode_set", mode="locked"), **at(2)}
    recorded(runa, ines, {**a_check(), **at(3)}, locked, an_attempt("stand_load"))
    client = enter(runa)
    entries = set(Alert.objects.filter(open=True).values_list("entry", flat=True))
    assert {link for link, _ in lines(client, "unanswered")} == {f"/alerts/{ines.pk}/{entry}/" for entry in entries}
    for entry in entries:
        acknowledge(actor=runa, episode_id=ines.pk, entry=entry, text="Sat down, lock proven, talked it through.")
    assert entries
    assert lines(client, "unanswered") == []


def test_an_alert_says_in_few_words_what_it_is_and_what_to_do_now(enter: Enter, runa: Staff, ines: Episode) -> None:
    locked = {**an_entry("mode_set", mode="locked"), **at(2)}
    recorded(runa, ines, {**a_check(), **at(3)}, locked, an_attempt("stand_load"))
    ((_, text),) = lines(enter(runa), "unanswered")
    assert text.startswith("Lock not verified: Stop and sit the person down.")


def test_whoever_struck_a_danger_out_is_not_told_to_ask_themselves(enter: Enter, runa: Staff, ines: Episode) -> None:
    unsafe = {**an_attempt("stand_load", result="unsafe"), **at(5)}
    recorded(runa, ines, {**an_entry("session_opened"), **at(7)}, {**a_check(), **at(6)}, unsafe)
    recorded(runa, ines, an_entry("struck_out", entry=unsafe["id"], reason="tapped by mistake"))
    ((_, own),) = lines(enter(runa), "unanswered")
    assert own.endswith(
        "You struck it out. Your reason stands, and is kept: tapped by mistake. Add what you did about it; if there "
        "was nothing more to do, answer “nothing more”. A clinic lead may ask you."
    )
    ((_, leads),) = lines(enter(a_lead()), "unanswered")
    assert "ask who struck it out" in leads


def test_the_sheets_of_tomorrow_and_for_a_lead_the_other_tablets_are_a_tap_away(enter: Enter, runa: Staff) -> None:
    tomorrow = clock.local_day(ago(minutes=0), runa.site.time_zone) + timedelta(days=1)
    assert f'href="/paper/?day={tomorrow}"' in page(enter(runa), "/day-end/")
    assert "Gym tablets" in page(enter(a_lead()), "/day-end/")
    assert "Gym tablets" not in page(enter(runa), "/day-end/")


def test_somebody_for_whom_one_recorded_unplanned_is_of_the_day_too(enter: Enter, runa: Staff) -> None:
    recorded(runa, an_episode(assigned_to=runa), {**an_entry("session_opened"), **at(10)})
    assert len(lines(enter(runa), "unproven")) == 1


def test_what_is_a_colleagues_is_not_on_ones_list(enter: Enter, runa: Staff, ines: Episode) -> None:
    recorded(runa, ines, {**an_entry("session_opened"), **at(10)})
    seen = page(enter(a_therapist()), "/day-end/")
    assert ines.person.number not in seen
    assert EMPTY in seen


def test_what_is_unsent_only_the_device_knows_and_the_page_says_so(enter: Enter, runa: Staff) -> None:
    assert "Without its script this page cannot see what waits on this device" in page(enter(runa), "/day-end/")


def test_who_does_not_record_has_no_such_list(enter: Enter) -> None:
    assert enter(a_staff(Role.RECORDS_OFFICER)).get("/day-end/").status_code == 403


def test_today_leads_to_it_and_offers_it_on_top_when_everybody_is_through(
    enter: Enter, runa: Staff, ines: Episode
) -> None:
    client = enter(runa)
    recorded(runa, ines, {**an_entry("session_opened"), **at(10)})
    seen = page(client)
    assert 'href="/day-end/"' in seen
    assert "Everybody of today is through" not in seen
    recorded(runa, ines, {**an_entry("session_closed"), **at(1)})
    assert "Everybody of today is through" in page(client)


@pytest.mark.parametrize("whose", [a_therapist, a_lead])
def test_ten_people_cost_no_more_statements_than_one(enter: Enter, whose: Callable[[], Staff]) -> None:
    runa, actor = a_therapist(), whose()
    carrier = actor if whose is a_therapist else runa

    def somebody() -> None:
        episode = an_episode(assigned_to=carrier)
        a_visit(episode, carrier)
        not_begun(episode, carrier)
        not_begun(episode, carrier, minutes=5 * 24 * 60)
        PlannedReview.objects.create(
            episode=episode, due_on=ago(days=3).date(), planned_by=carrier, planned_at=clock.now()
        )
        locked = {**an_entry("mode_set", mode="locked"), **at(2)}
        recorded(carrier, episode, {**an_entry("session_opened"), **at(4)}, locked, an_attempt("stand_load"))

    client = enter(actor)
    somebody()
    page(client, "/day-end/")
    with CaptureQueriesContext(connection) as one:
        page(client, "/day-end/")
    for _ in range(9):
        somebody()
    with CaptureQueriesContext(connection) as ten:
        page(client, "/day-end/")
    assert len(ten) <= len(one)


def test_yesterdays_session_is_not_of_this_day(enter: Enter, runa: Staff, ines: Episode) -> None:
    at_noon = ago(days=1) - timedelta(hours=1)
    recorded(runa, ines, an_entry("session_opened", at=at_noon))
    assert lines(enter(runa), "unproven") == []


def test_a_fall_that_nobody_reviewed_is_listed_and_leads_to_the_review(
    enter: Enter, runa: Staff, ines: Episode
) -> None:
    recorded(runa, ines, a_fall(skill="stand_load", at=ago(days=1)))
    ((link, text),) = lines(enter(runa), "falls")
    assert link == reverse("record_review", args=[ines.pk]) + "?next=%2Fday-end%2F"
    assert "has not been reviewed" in text


def test_who_was_planned_and_not_begun_is_asked_for_until_somebody_says(enter: Enter, runa: Staff) -> None:
    ines, client = an_episode(assigned_to=runa), enter(runa)
    assert 'data-part="visits"' not in page(client, "/day-end/")
    visit = not_begun(ines, runa)
    ((link, text),) = lines(client, "visits")
    assert link == f"/people/{ines.pk}/plan/#plan-visits"
    assert text.endswith(f"with {runa.name}, and not begun: say whether they came.")
    assert "did they come?" in page(client, f"/people/{ines.pk}/plan/")
    client.post(f"/people/{ines.pk}/plan/visits/{visit.pk}/", {"state": "missed", "version": visit.version})
    assert 'data-part="visits"' not in page(client, "/day-end/")


def test_of_the_weeks_before_too_it_is_asked_until_somebody_says(enter: Enter, runa: Staff) -> None:
    of_days = [(an_episode(assigned_to=runa), days) for days in (27, 2, 29)]
    visits = [not_begun(episode, runa, minutes=days * 24 * 60) for episode, days in of_days]
    client, zone = enter(runa), runa.site.time_zone
    asked = [f"Planned for {instant_words(visit.starts_at, zone)}, with {runa.name}, and not" for visit in visits]
    assert [text.split(" begun")[0] for _link, text in lines(client, "visits")] == asked[:2], "not what is too long ago"
    assert lines(client, "unproven") == [], "who was to come on another day is not of this one"
    Visit.objects.filter(pk=visits[0].pk).update(state="came")
    Episode.objects.filter(pk=of_days[1][0].pk).update(closed_at=clock.now())
    assert 'data-part="visits"' not in page(client, "/day-end/")


def test_a_session_that_was_begun_or_lies_ahead_is_not_asked_for(enter: Enter, runa: Staff, ines: Episode) -> None:
    recorded(runa, ines, {**an_entry("session_opened"), **at(0)})
    not_begun(an_episode(assigned_to=runa), runa, minutes=-30)
    assert 'data-part="visits"' not in page(enter(runa), "/day-end/")


def test_an_overdue_review_of_ones_people_leads_to_its_recording(enter: Enter, runa: Staff) -> None:
    client, ines, other = enter(runa), an_episode(assigned_to=runa), an_episode()
    assert 'data-part="reviews"' not in page(client, "/day-end/")
    day = clock.local_day(clock.now(), runa.site.time_zone)
    for episode, days in ((ines, 3), (other, 3), (ines, 0)):
        due_on = day - timedelta(days=days)
        PlannedReview.objects.create(episode=episode, due_on=due_on, planned_by=runa, planned_at=clock.now())
    form = "/people/{}/review/?next=%2Fday-end%2F"
    assert lines(client, "reviews") == [(form.format(ines.pk), "Routine review: 3 days overdue")]
    assert {link for link, _text in lines(enter(a_lead()), "reviews")} == {form.format(e.pk) for e in (ines, other)}
    assert 'data-part="reviews"' not in page(enter(an_assistant()), "/day-end/"), "an assistant reviews nobody"


def test_what_is_critical_stands_first_and_the_page_says_of_which_site_it_is(
    enter: Enter, runa: Staff, ines: Episode
) -> None:
    swinging, standing = an_entry("mode_set", mode="free_swing", at=ago(minutes=8)), an_attempt("sit_stand")
    recorded(runa, ines, {**an_entry("session_opened"), **at(9)}, swinging, {**standing, **at(6)})
    other = an_episode(assigned_to=runa)
    recorded(runa, other, {**an_entry("session_opened"), **at(4)}, {**an_attempt("sit_stand"), **at(3)})
    marks = re.findall(
        r"open-mark is-(critical|major|minor)", page(enter(runa), "/day-end/").split('data-part="unanswered"')[1]
    )
    assert marks == sorted(marks, key=["critical", "major", "minor"].index)
    assert {"critical", "major"} <= set(marks)
    assert f"{runa.site.name} · " in page(enter(runa), "/day-end/")


def test_whoever_leads_several_sites_reads_of_all_of_them_before_going_home(enter: Enter, runa: Staff) -> None:
    lead, quay = a_lead(), a_site("Quay Street")
    theirs = a_therapist(name="Zofia Quayle", site=quay)
    episode = an_episode(assigned_to=theirs, person=a_person(given_name="Aurel", family_name="Brind", site=quay))
    a_visit(episode, theirs)
    recorded(theirs, episode, {**an_entry("session_opened"), **at(9)})
    seen = page(enter(lead), "/day-end/")
    assert f"{lead.site.name}, Quay Street · " in seen
    assert f"{episode.person.number} · Quay Street" in seen
    assert [link for link, _words in lines(enter(lead), "unproven")] == [reverse("floor", args=[episode.pk])]
    own = page(enter(runa), "/day-end/")
    assert "Quay Street" not in own
