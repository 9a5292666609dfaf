"""What goes along when a person is moved, and who stands in: never unasked whoever is away themselves."""

from __future__ import annotations

import re
from collections.abc import Callable
from datetime import timedelta

import pytest
from django.test import Client

from caseload.models import Assignment, Cover, Episode, PlannedReview, Visit
from caseload.words import day_words, instant_words
from clinic import clock
from clinic.models import TrailRow
from clinic.staff.models import Staff
from tests.makers import a_cover, a_lead, a_person, a_referral, a_site, a_therapist, an_episode, now

pytestmark = pytest.mark.django_db
Enter = Callable[..., Client]
TODAY = clock.local_day(clock.now(), "Europe/London")
DAY = timedelta(days=1)


@pytest.mark.parametrize("along", [True, False])
def test_booked_sessions_go_along_where_ticked_and_are_named_where_they_stay(enter: Enter, along: bool) -> None:
    episode, to = an_episode(assigned_to=(sorrel := a_therapist(name="Sorrel Tidewick"))), a_therapist(name="Runa")
    hours = {"site": episode.site, "staff": sorrel}
    visit = Visit.objects.create(episode=episode, starts_at=now() + 9 * DAY, **hours)
    Visit.objects.create(episode=episode, starts_at=now() - 9 * DAY, **hours)
    when = instant_words(visit.starts_at, episode.site.time_zone)
    browser, address = enter(a_lead()), f"/people/{episode.pk}/plan/reassign/"
    page = " ".join(browser.get(address).content.decode().split())
    assert f"Stays at {episode.site}; 1 session planned." in page
    assert re.search(rf'name="move_visits"[^>]* checked[^>]*><span>The planned session goes with them: {when}', page)
    seen = Assignment.objects.get(episode=episode)
    said = {"standing_id": str(seen.pk), "version": seen.version, "reason": "Nearer.", "staff_id": str(to.pk)}
    done = browser.post(address, said | ({"move_visits": "on"} if along else {}), follow=True).content.decode()
    assert (f"1 session is still with Sorrel Tidewick: {when}." in done) is not along
    assert ("The planned sessions went with them." in done) is along
    assert Visit.objects.filter(staff=to).count() == TrailRow.objects.filter(verb="visit.handed_on").count() == along


def test_who_is_away_themselves_is_last_marked_and_stands_in_only_where_it_is_meant(enter: Enter) -> None:
    away, jonas, lucie = (a_therapist(name=name) for name in ("Runa Achterling", "Jonas Wexthorn", "Lucie Amberwick"))
    dele = a_therapist(name="Dele Morrowby", authorised=["lock"])
    days = {"start": now() - DAY, "end": clock.day_starts(TODAY + 9 * DAY, "Europe/London")}
    a_cover(an_episode(assigned_to=jonas), lucie, **days)
    theirs = str(an_episode(assigned_to=away).pk)
    Episode.objects.update(features=["free_swing"])
    browser = enter(a_lead())
    address = f"/caseload/cover/?away={away.pk}"
    page = browser.get(address).content.decode()
    choices = page[page.index("<fieldset") :]
    order = [choices.index(f"<span>{one.name}</span>") for one in (lucie, dele, jonas)]
    assert order == sorted(order), "Dele lacks a feature, and is there"
    assert (
        f"away {instant_words(days['start'], 'Europe/London')} – {day_words(TODAY + 8 * DAY)}" in choices[order[-1] :]
    )
    of_jonas, of_lucie = (rf'value="{one.pk}"( data-away)? required' for one in (jonas, lucie))
    marked = [found and found[1] for found in (re.search(one, page) for one in (of_jonas, of_lucie))]
    assert marked == [" data-away", None], "by which the style sheet shows the box that it is meant"
    said = {"away_id": str(away.pk), "staff_id": str(jonas.pk), "last_day": (TODAY + 20 * DAY).isoformat()}
    said["episode_ids"] = theirs
    within = browser.post(address, said | {"first_day": (TODAY + 8 * DAY).isoformat()})
    assert (within.status_code, "Jonas Wexthorn is away" in within.content.decode()) == (409, True)
    assert Cover.objects.count() == 1
    assert browser.post(address, said | {"first_day": (TODAY + 9 * DAY).isoformat()}).status_code == 302
    meant = {"although_away": "on", "first_day": TODAY.isoformat(), "last_day": TODAY.isoformat()}
    assert browser.post(address, said | meant).status_code == 302


def test_may_teach_it_names_last_and_until_when_whoever_is_away(enter: Enter) -> None:
    jonas, lucie = a_therapist(name="Jonas Wexthorn"), a_therapist(name="Lucie Amberwick")
    a_cover(
        an_episode(assigned_to=jonas), lucie, start=now() - DAY, end=clock.day_starts(TODAY + 9 * DAY, "Europe/London")
    )
    a_referral(features=["lock"])
    page = enter(a_lead()).get("/caseload/").content.decode()
    assert f"Lucie Amberwick, Jonas Wexthorn (away to {day_words(TODAY + 8 * DAY)})" in page


def test_may_teach_it_says_who_signs_nothing_yet(enter: Enter) -> None:
    a_therapist(name="Lucie Amberwick")
    Staff.objects.filter(pk=a_therapist(name="Jorun Aldermere").pk).update(identity_checked_at=None)
    a_referral(features=["lock"])
    page = enter(a_lead()).get("/caseload/").content.decode()
    assert "Lucie Amberwick, Jorun Aldermere (identity not checked yet)" in page


def test_the_people_of_somebody_away_can_be_shared_out(enter: Enter) -> None:
    """Ticked are those for whom nobody stands in yet; who stands in for the others, and when, is said."""
    away, jonas, lucie = (a_therapist(name=name) for name in ("Runa Achterling", "Jonas Wexthorn", "Lucie Amberwick"))
    one, two = (an_episode(assigned_to=away, person=a_person(given_name=name)) for name in ("Ines", "Bertil"))
    browser, address = enter(a_lead()), f"/caseload/cover/?away={away.pk}"
    days = {"first_day": TODAY.isoformat(), "last_day": (TODAY + 5 * DAY).isoformat()}
    said = {"away_id": str(away.pk), "staff_id": str(jonas.pk), **days}
    assert browser.post(address, said).status_code == 422
    assert browser.post(address, {**said, "episode_ids": [str(one.pk)]}).status_code == 302
    page = browser.get(address).content.decode()
    assert f"Ines Ashdown (Jonas Wexthorn, {day_words(TODAY)} – {day_words(TODAY + 5 * DAY)})" in page
    ticked = re.findall(r'name="episode_ids" value="([^"]+)"[^>]* checked', page)
    assert ticked == [str(two.pk)]
    assert browser.post(address, {**said, "staff_id": str(lucie.pk), "episode_ids": ticked}).status_code == 302
    assert {cover.episode_id: cover.staff_id for cover in Cover.objects.all()} == {one.pk: jonas.pk, two.pk: lucie.pk}


def test_a_move_to_another_site_s_therapist_says_that_the_place_stays(enter: Enter) -> None:
    episode, to = an_episode(), a_therapist(name="Runa Achterling", site=a_site("Quay Street"))
    seen = Assignment.objects.get(episode=episode)
    said = {"standing_id": str(seen.pk), "version": seen.version, "reason": "Nearer.", "staff_id": str(to.pk)}
    done = enter(a_lead()).post(f"/people/{episode.pk}/plan/reassign/", said, follow=True).content.decode()
    assert f"They still come to {episode.site}; Runa Achterling is at Quay Street." in done


def test_a_new_date_names_the_review_and_what_is_overdue_all_the_same(enter: Enter) -> None:
    episode, lead = an_episode(), a_lead()
    days = [TODAY - 53 * DAY, TODAY - 12 * DAY]
    old, _other = (
        PlannedReview.objects.create(episode=episode, due_on=day, planned_by=lead, planned_at=now()) for day in days
    )
    new = TODAY + 7 * DAY
    address = f"/people/{episode.pk}/plan/reviews/{old.pk}/put-off/"
    said = {"due_on": new.isoformat(), "reason": "They are away.", "version": "1"}
    done = enter(lead).post(address, said, follow=True).content.decode()
    assert f"Routine review of {day_words(days[0])}: now {day_words(new)}." in done
    assert f"Still overdue: routine review of {day_words(days[1])}." in done


def test_somebody_who_waits_is_not_missed_in_people(enter: Enter) -> None:
    a_referral(a_person(given_name="Hollis"))
    page = enter(a_lead()).post("/people/", {"named": "Hollis"}).content.decode()
    assert "/caseload/#h-waiting" in page[page.index("Nobody in care is called") :]
    other = enter(a_therapist()).post("/people/", {"named": "Hollis"}).content.decode()
    assert ("/caseload/" in other, "Nobody here that you may see" in other) == (False, True)


def test_whoever_is_covered_already_is_not_reckoned_again_unless_ticked(enter: Enter) -> None:
    away, lucie = a_therapist(name="Runa Achterling"), a_therapist(name="Lucie Amberwick", authorised=["lock"])
    names = ("Ines", "Bertil", "Maro")
    ines, bertil, maro = (an_episode(assigned_to=away, person=a_person(given_name=one)) for one in names)
    Episode.objects.filter(pk=ines.pk).update(features=["free_swing"])
    Episode.objects.filter(pk__in=(bertil.pk, maro.pk)).update(features=["lock"])
    browser, address = enter(a_lead()), f"/caseload/cover/?away={away.pk}"
    only_two = "shown for the 2 ticked of 3."
    assert "shown for the 3 ticked of 3." in browser.get(address).content.decode(), "everybody is ticked"
    a_cover(ines, a_therapist(), start=now() - DAY, end=now() + 5 * DAY)
    page = browser.get(address).content.decode()
    choices = page[page.index('class="candidates"') :]
    assert (only_two in page, "may teach all 2" in choices, "may not teach" in choices) == (True, True, False)
    assert re.search(r"\bInes \w+ \(", page), "who stands in stands beside the name"
    said = {"away_id": str(away.pk), "episode_ids": [str(ines.pk)], "staff_id": str(lucie.pk)}
    refused = browser.post("/caseload/cover/", said)
    assert refused.status_code == 422, "the days are missing"
    assert "lacks free swing" in refused.content.decode(), "after a refusal it is reckoned of those who are ticked"
