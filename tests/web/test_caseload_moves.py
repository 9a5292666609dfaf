"""What goes along when a person is moved, and who stands in: never unasked whoever is away themselves."""

from __future__ import annotations

import re
from collections.abc import Callable
from datetime import timedelta

import pytest
from django.test import Client

from caseload.models import Assignment, Cover, Episode, Visit
from caseload.words import day_words, instant_words
from clinic import clock
from clinic.models import TrailRow
from tests.makers import a_cover, a_lead, a_referral, a_therapist, an_episode, now

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
    assert f"Comes to {episode.site}; 1 session planned." in page
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
    an_episode(assigned_to=away)
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
    said = {"away_id": str(away.pk), "staff_id": str(jonas.pk), "last_day": (TODAY + 20 * DAY).isoformat()}
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
