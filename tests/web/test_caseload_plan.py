"""A person's plan on its pages: what can be done, what is refused in words, and who never gets in."""

from __future__ import annotations

from collections.abc import Callable
from datetime import timedelta

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext

from caseload.models import AdjustmentRequest, Component, Episode, PlannedReview, Prosthesis, Visit, Weight
from caseload.request.services import ask_adjustment
from clinic import clock
from clinic.models import TrailRow
from tests.makers import a_lead, a_prosthetist, a_site, a_therapist, an_assistant, an_episode

pytestmark = pytest.mark.django_db
Enter = Callable[..., Client]
TODAY = clock.local_day(clock.now(), "Europe/London")
DAY = timedelta(days=1)
FORMS = (
    *("", "person/", "weight/", "visits/", "reviews/", "requests/"),
    *("pause/", "move/", "reassign/", "cover/", "devices/"),
)


def the_person(episode: Episode, **other: object) -> dict[str, object]:
    person = episode.person
    said = {
        name: getattr(person, name)
        for name in ("number", "second_identifier", "given_name", "family_name", "born_on", "language")
    }
    return {**said, "version": person.version, **other}


@pytest.mark.parametrize("page", FORMS)
def test_a_link_to_a_person_outside_ones_caseload_finds_nothing_and_is_in_the_trail(enter: Enter, page: str) -> None:
    episode, stranger = an_episode(), a_therapist()
    address = f"/people/{episode.pk}/plan/{page}"
    answer = enter(stranger).get(address)
    assert answer.status_code == 404
    assert "Ashdown" not in answer.content.decode()
    assert TrailRow.objects.filter(actor=stranger, verb="access.refused").count() == 1


@pytest.mark.parametrize("page", FORMS)
def test_the_lead_can_open_every_page_of_a_plan(enter: Enter, page: str) -> None:
    answer = enter(a_lead()).get(f"/people/{an_episode().pk}/plan/{page}")
    assert answer.status_code == 200
    assert "Robin Ashdown" in answer.content.decode()


def test_opening_a_plan_leaves_a_trail_row(enter: Enter) -> None:
    mine = a_therapist()
    episode = an_episode(assigned_to=mine)
    enter(mine).get(f"/people/{episode.pk}/plan/")
    assert TrailRow.objects.filter(actor=mine, verb="plan.opened", episode=episode.pk).count() == 1


def test_a_therapist_is_offered_what_is_theirs_to_do_and_nothing_else(enter: Enter) -> None:
    mine = a_therapist()
    page = enter(mine).get(f"/people/{an_episode(assigned_to=mine).pk}/plan/").content.decode()
    offered = [
        "Plan sessions",
        "Plan a review",
        "Ask for an adjustment",
        "Pause",
        "Move to another therapist",
        "Register a prosthesis",
    ]
    assert [words in page for words in offered] == [True, True, True, True, False, False]


def test_two_people_edit_one_person_the_second_sees_what_changed_and_may_then_decide(enter: Enter) -> None:
    mine, lead = a_therapist(name="Runa Achterling"), a_lead()
    episode = an_episode(assigned_to=mine)
    address = f"/people/{episode.pk}/plan/person/"
    first = the_person(episode, phone="0100")
    assert enter(mine).post(address, first).status_code == 302
    browser = enter(lead)
    second = browser.post(address, the_person(episode, next_of_kin="A sister, 0200"))
    page = second.content.decode()
    assert second.status_code == 412
    assert "Runa Achterling" in page
    assert "changed (phone)" in page
    assert 'value="A sister, 0200"' in page
    assert 'name="version" value="2"' in page
    decided = the_person(episode, next_of_kin="A sister, 0200", phone="0100", version=2)
    assert browser.post(address, decided).status_code == 302
    episode.person.refresh_from_db()
    assert (episode.person.phone, episode.person.next_of_kin) == ("0100", "A sister, 0200")


def test_a_weight_is_noted_and_one_that_cannot_be_is_refused_with_what_was_typed(enter: Enter) -> None:
    mine = a_therapist()
    browser, address = enter(mine), f"/people/{an_episode(assigned_to=mine).pk}/plan/weight/"
    refused = browser.post(address, {"kg": "81.5", "measured_on": (TODAY + 3 * DAY).isoformat()})
    assert (refused.status_code, 'value="81.5"' in refused.content.decode()) == (422, True)
    assert browser.post(address, {"kg": "81.5", "measured_on": TODAY.isoformat()}).status_code == 302
    assert str(Weight.objects.get().kg) == "81.5"


def test_sessions_are_planned_and_then_written_down_with_one_press(enter: Enter) -> None:
    mine = a_therapist()
    episode = an_episode(assigned_to=mine)
    browser, plan = enter(mine), f"/people/{episode.pk}/plan/"
    said = {"day": TODAY.isoformat(), "wall": "00:05", "minutes": 45, "weeks": 3}
    assert browser.post(f"{plan}visits/", said).status_code == 302
    first = Visit.objects.order_by("starts_at").first()
    assert first is not None
    page = browser.post(f"{plan}visits/{first.pk}/", {"state": "came", "version": 1}, follow=True).content.decode()
    assert "The session is written down: came." in page
    assert sorted(Visit.objects.values_list("state", flat=True)) == ["came", "planned", "planned"]


def test_a_press_made_from_an_old_page_is_told_what_happened(enter: Enter) -> None:
    mine = a_therapist(name="Runa Achterling")
    episode = an_episode(assigned_to=mine)
    browser, plan = enter(mine), f"/people/{episode.pk}/plan/"
    browser.post(f"{plan}visits/", {"day": TODAY.isoformat(), "wall": "00:05", "minutes": 45, "weeks": 1})
    visit = Visit.objects.get()
    browser.post(f"{plan}visits/{visit.pk}/", {"state": "missed", "version": 1})
    for version in ("1", "nonsense"):
        page = browser.post(f"{plan}visits/{visit.pk}/", {"state": "came", "version": version}, follow=True)
        assert "Somebody else changed this meanwhile" in page.content.decode()
    visit.refresh_from_db()
    assert visit.state == "missed"


def test_a_review_is_planned_put_off_and_struck_out(enter: Enter) -> None:
    mine = a_therapist()
    episode = an_episode(assigned_to=mine)
    browser, plan = enter(mine), f"/people/{episode.pk}/plan/"
    browser.post(f"{plan}reviews/", {"kind": "routine", "due_on": TODAY.isoformat()})
    review = PlannedReview.objects.get()
    later = {"due_on": (TODAY + 9 * DAY).isoformat(), "reason": "Skin is sore.", "version": 1}
    assert browser.post(f"{plan}reviews/{review.pk}/put-off/", later).status_code == 302
    stale = browser.post(f"{plan}reviews/{review.pk}/strike-out/", {"reason": "Not needed.", "version": 1})
    assert (stale.status_code, 'name="version" value="2"' in stale.content.decode()) == (412, True)
    browser.post(f"{plan}reviews/{review.pk}/strike-out/", {"reason": "Not needed.", "version": 2})
    review.refresh_from_db()
    assert review.cancelled_at is not None


def test_two_people_reword_one_request_and_the_second_is_told(enter: Enter) -> None:
    mine, lead = a_therapist(name="Jonas Wexthorn"), a_lead()
    episode = an_episode(assigned_to=mine)
    request = ask_adjustment(actor=mine, episode_id=episode.pk, setting="resistance", text="Stiffer, please.")
    address = f"/people/{episode.pk}/plan/requests/{request.pk}/"
    assert enter(mine).post(address, {"setting": "foot", "text": "Stiffer, please.", "version": 1}).status_code == 302
    answer = enter(lead).post(address, {"setting": "resistance", "text": "Softer!", "version": 1})
    page = answer.content.decode()
    assert answer.status_code == 412
    assert "Jonas Wexthorn" in page
    assert "reworded (setting)" in page
    assert "Softer!" in page
    assert AdjustmentRequest.objects.get().text == "Stiffer, please."


def test_a_pause_is_shown_and_ended_with_one_press(enter: Enter) -> None:
    mine = a_therapist()
    episode = an_episode(assigned_to=mine)
    browser, plan = enter(mine), f"/people/{episode.pk}/plan/"
    browser.post(f"{plan}pause/", {"reason": "In hospital.", "first_day": TODAY.isoformat()})
    assert "They are back today" in browser.get(plan).content.decode()
    assert "They are back today" not in browser.post(f"{plan}resume/", follow=True).content.decode()


def test_a_move_to_another_site(enter: Enter) -> None:
    episode, quay = an_episode(), a_site("Quay Street")
    said = {"site_id": str(quay.pk), "reason": "Lives there now.", "version": 1}
    assert enter(a_lead()).post(f"/people/{episode.pk}/plan/move/", said).status_code == 302
    assert enter(an_assistant(site=quay)).get(f"/people/{episode.pk}/plan/").status_code == 200


def test_the_prosthetist_keeps_the_register_from_the_plan(enter: Enter) -> None:
    episode, browser = an_episode(), enter(a_prosthetist())
    plan = f"/people/{episode.pk}/plan/"
    said = {"side": "left", "label": "Day leg", "resistance_low": 1, "resistance_high": 10}
    assert browser.post(f"{plan}devices/", said).status_code == 302
    device = Prosthesis.objects.get()
    part = {"kind": "foot", "description": "size 25", "since": TODAY.isoformat()}
    assert browser.post(f"{plan}devices/{device.pk}/parts/", part).status_code == 302
    worn = Component.objects.get()
    assert browser.post(f"{plan}devices/{device.pk}/parts/{worn.pk}/", {"on": TODAY.isoformat()}).status_code == 302
    corrected = {"label": "Day leg", "resistance_low": 1, "resistance_high": 12, "version": 1}
    assert browser.post(f"{plan}devices/{device.pk}/", corrected).status_code == 302
    device.refresh_from_db()
    assert device.resistance_high == 12


def test_a_plan_costs_the_same_however_much_is_planned(enter: Enter) -> None:
    mine = a_therapist()
    episode, counts = an_episode(assigned_to=mine), []
    browser = enter(mine)
    for week in range(2):
        for hour in range(3):
            start = clock.now() + timedelta(weeks=week + 1, hours=hour)
            Visit.objects.create(episode=episode, site=episode.site, staff=mine, starts_at=start)
            PlannedReview.objects.create(episode=episode, due_on=TODAY, planned_by=mine, planned_at=clock.now())
            ask_adjustment(actor=mine, episode_id=episode.pk, setting="foot", text="Turns out.")
        with CaptureQueriesContext(connection) as caught:
            browser.get(f"/people/{episode.pk}/plan/")
        counts.append(len(caught))
    assert counts[0] >= counts[1]


def test_sessions_that_come_stand_first_soonest_first_then_those_that_were_latest_first(enter: Enter) -> None:
    mine = a_therapist()
    episode, now = an_episode(assigned_to=mine), clock.now()
    for number in (-9, -2, 3, 8):
        Visit.objects.create(episode=episode, site=episode.site, staff=mine, starts_at=now + number * DAY, minutes=45)
    shown = enter(mine).get(f"/people/{episode.pk}/plan/").context["visits"]
    assert [(visit.starts_at - now).days for visit in shown] == [3, 8, -2, -9]


def test_a_session_that_was_and_that_nobody_wrote_down_asks_whether_they_came(enter: Enter) -> None:
    episode, browser = an_episode(assigned_to=(mine := a_therapist())), enter(mine)
    asked = []
    for days in (8, -9):
        at = clock.now() + days * DAY
        Visit.objects.create(episode=episode, site=episode.site, staff=mine, starts_at=at, minutes=45)
        asked.append("did they come?" in browser.get(f"/people/{episode.pk}/plan/").content.decode())
    assert asked == [False, True]


def test_whoever_may_not_move_a_person_reads_who_does_and_how_a_session_is_passed_on(enter: Enter) -> None:
    mine, lead, elsewhere = (
        a_therapist(),
        a_lead(name="Jorun Wexthorn"),
        a_lead(name="Sunniva Kell", site=a_site("Quay")),
    )
    episode = an_episode(assigned_to=mine)
    address = f"/people/{episode.pk}/plan/"
    asks, passes = "ask a clinic lead: Jorun Wexthorn.", "A session under way you pass on from the Floor"
    seen = enter(mine).get(address).content.decode()
    assert asks in seen
    assert passes in seen
    bench = enter(a_prosthetist()).get(address).content.decode()
    assert asks in bench
    assert passes not in bench
    for who in (lead, elsewhere):
        assert "ask a clinic lead:" not in enter(who).get(address).content.decode()


def test_where_no_lead_is_of_the_site_those_of_any_are_named(enter: Enter) -> None:
    mine, _lead = a_therapist(), a_lead(name="Sunniva Kell", site=a_site("Quay"))
    address = f"/people/{an_episode(assigned_to=mine).pk}/plan/"
    assert "ask a clinic lead: Sunniva Kell." in enter(mine).get(address).content.decode()


def test_the_key_to_the_plan_promises_handing_over_to_whoever_may_do_it_alone(enter: Enter) -> None:
    mine = a_therapist()
    address = f"/people/{an_episode(assigned_to=mine).pk}/"
    keys = {"Plan, contact, hand over", "Plan, contact, in whose hands"}
    for who, key in ((mine, "Plan, contact, in whose hands"), (a_lead(), "Plan, contact, hand over")):
        seen = enter(who).get(address).content.decode()
        assert [one for one in keys if one in seen] == [key]
