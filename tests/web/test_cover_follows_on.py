"""A cover that ended today makes way from that minute, at every door; whom nobody covers stays said while it is so."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from datetime import UTC, date, datetime, timedelta
from html import unescape
from typing import Any
from uuid import UUID

import pytest
from django.test import Client

from caseload.assignment.cover import arrange_cover, end_cover
from caseload.assignment.gaps import FAR, Span, from_today, gaps, joined, span_of
from caseload.models import Assignment, Cover, Episode
from caseload.words import day_words
from clinic import clock
from clinic.errors import Conflict
from clinic.staff.models import Staff
from tests.api.conftest import Caller, calling  # noqa: F401 - the fixture of the other door
from tests.makers import a_cover, a_lead, a_person, a_site, a_therapist, an_episode, now

pytestmark = pytest.mark.django_db
Enter = Callable[..., Client]
ZONE, DAY = "Europe/London", timedelta(days=1)
TODAY = clock.local_day(clock.now(), ZONE)
NOON = clock.day_starts(TODAY, ZONE) + timedelta(hours=12, minutes=6)


@pytest.fixture
def noon(settings: Any) -> Iterator[None]:
    """It is six minutes past noon."""
    settings.CLOCK_CAN_BE_SET = True
    with clock.at_instant(NOON):
        yield


def midnight(days: int) -> datetime:
    return clock.day_starts(TODAY + days * DAY, ZONE)


def of(carrier: Staff, *names: str) -> list[Episode]:
    return [an_episode(assigned_to=carrier, person=a_person(given_name=name)) for name in names]


def covered(episode: Episode, *, first: int = -3, end: int = 10) -> Cover:
    """By Lucie Amberwick, from a day on to the beginning of another, counted from today."""
    lucie = Staff.objects.filter(name="Lucie Amberwick").first() or a_therapist(name="Lucie Amberwick")
    return a_cover(episode, lucie, start=midnight(first), end=midnight(end))


def text(page: bytes) -> str:
    return " ".join(unescape(page.decode()).replace("\u00a0", " ").split())


def leave(browser: Client) -> str:
    page = text(browser.get("/caseload/cover/").content)
    return page[page.index("Covered already") :]


# --- a cover that ended today -----------------------------------------------------------------------------------------
@pytest.mark.parametrize("door", ["single", "leave", "api"])
def test_a_cover_that_ended_today_makes_way_from_that_minute(door: str, enter: Enter, calling: Caller) -> None:  # noqa: F811 - the fixture
    jonas, runa, lead = a_therapist(name="Jonas Wexthorn"), a_therapist(name="Runa Achterling"), a_lead()
    (rhys,) = of(jonas, "Rhys")
    old = end_cover(actor=lead, cover_id=covered(rhys).pk, version=1)
    said = {"staff_id": str(runa.pk), "first_day": str(TODAY), "last_day": str(TODAY + 9 * DAY)}
    before = clock.now()
    if door == "api":
        sent = calling(lead).post("/api/v1/covers/", {**said, "episode_id": str(rhys.pk)})
        assert sent.status_code == 201, sent.content
    else:
        address = f"/people/{rhys.pk}/plan/cover/" if door == "single" else f"/caseload/cover/?away={jonas.pk}"
        ticks = {"away_id": str(jonas.pk), "episode_ids": [str(rhys.pk)]} if door == "leave" else {}
        assert enter(lead).post(address, said | ticks).status_code == 302
    new = Cover.objects.get(staff=runa)
    assert old.period.upper <= before <= new.period.lower <= clock.now(), "nobody is left without from now on"
    assert new.period.upper == midnight(10)


@pytest.mark.usefixtures("noon")
def test_it_begins_where_the_other_ends_if_that_is_later_today_and_the_day_as_a_whole_where_none_ended() -> None:
    (rhys, ines), runa, lead = of(a_therapist(), "Rhys", "Ines"), a_therapist(name="Runa Achterling"), a_lead()
    three = NOON + timedelta(hours=3)
    a_cover(rhys, a_therapist(), start=midnight(-3), end=three)
    a_cover(ines, a_therapist(), start=midnight(-3), end=midnight(0))
    days: Any = {"staff_id": runa.pk, "first_day": TODAY, "last_day": TODAY + DAY}
    (late,) = arrange_cover(actor=lead, episode_id=rhys.pk, **days)
    (whole,) = arrange_cover(actor=lead, episode_id=ines.pk, **days)
    assert (late.period.lower, whole.period.lower) == (three, midnight(0))


@pytest.mark.usefixtures("noon")
def test_whoever_is_back_since_this_morning_or_handed_them_on_can_stand_in_today() -> None:
    jonas, runa, lead = a_therapist(name="Jonas Wexthorn"), a_therapist(name="Runa Achterling"), a_lead()
    (rhys,), (ines,) = of(jonas, "Rhys"), of(runa, "Ines")
    a_cover(ines, a_therapist(), start=midnight(-3), end=NOON - timedelta(hours=2))
    Assignment.objects.filter(episode=rhys).update(period=(NOON - 9 * DAY, NOON - timedelta(hours=3)), staff=runa)
    Assignment.objects.create(episode=rhys, staff=jonas, made_by=lead, period=(NOON - timedelta(hours=3), None))
    made = arrange_cover(actor=lead, episode_id=rhys.pk, staff_id=runa.pk, first_day=TODAY, last_day=TODAY)
    assert [cover.staff for cover in made] == [runa]


@pytest.mark.usefixtures("noon")
def test_what_is_past_stays_and_it_is_said_that_the_cover_begins_today_or_later() -> None:
    (rhys,), runa, lead = of(a_therapist(), "Rhys"), a_therapist(), a_lead()
    a_cover(rhys, a_therapist(), start=midnight(-3), end=NOON)
    with pytest.raises(Conflict, match=r"Let the cover begin today or later\."):
        arrange_cover(actor=lead, episode_id=rhys.pk, staff_id=runa.pk, first_day=TODAY - DAY, last_day=TODAY + DAY)


# --- whom nobody covers -----------------------------------------------------------------------------------------------
def at(hours: float) -> datetime:
    """So many hours after a midnight."""
    return datetime(2026, 11, 27, tzinfo=UTC) + timedelta(hours=hours)


@pytest.mark.parametrize(
    ("absence", "covers", "found"),
    [
        ([(0, 72)], [(0, 72)], []),
        ([(0, 72)], [], [(0, 72)]),
        ([(12, 72)], [(24, 72)], [(0, 24)]),
        ([(12, 72)], [(12, 24), (24, 72)], []),
        ([(12, 72)], [(-9, 24), (48, 60)], [(24, 48), (48, 72)]),
        ([(24, 48), (72, 96)], [(24, 48)], [(72, 96)]),
        ([(24, 48), (72, 96)], [(0, 96)], []),
    ],
)
def test_what_of_an_absence_no_cover_holds(
    absence: list[tuple[int, int]], covers: list[tuple[int, int]], found: list[tuple[int, int]]
) -> None:
    spans = [[Span(at(start), at(end)) for start, end in each] for each in (absence, covers, found)]
    assert list(gaps(joined(spans[0], at=at(12)), joined(spans[1], at=at(12)))) == spans[2]


def test_the_rest_of_today_belongs_to_an_absence_that_goes_on_tomorrow_and_to_no_other() -> None:
    tomorrow, later, endless = Span(at(24), at(72)), Span(at(48), at(72)), Span(at(9), FAR)
    assert from_today([tomorrow], at=at(12)) == [Span(at(12), at(72))]
    assert from_today([later], at=at(12)) == [later]
    assert from_today([endless], at=at(12)) == [endless]
    assert (endless.last_day, tomorrow.last_day) == (None, date(2026, 11, 29))


def test_the_same_days_at_two_sites_are_the_same_days() -> None:
    days = [
        span_of(clock.day_starts(TODAY, zone), clock.day_starts(TODAY + 3 * DAY, zone), zone)
        for zone in (ZONE, "Europe/Madrid")
    ]
    assert days[0] == days[1]


def test_somebody_without_cover_today_is_said_though_cover_begins_tomorrow_and_the_form_asks_for_today(
    enter: Enter,
) -> None:
    jonas, runa, lead = a_therapist(name="Jonas Wexthorn"), a_therapist(name="Runa Achterling"), a_lead()
    rhys, ines = of(jonas, "Rhys", "Ines")
    covered(ines)
    end_cover(actor=lead, cover_id=covered(rhys).pk, version=1)
    browser = enter(lead)
    assert "1 of their 2 people is covered by nobody" in leave(browser)
    days: Any = {"staff_id": runa.pk, "last_day": TODAY + 9 * DAY}
    arrange_cover(actor=lead, episode_id=rhys.pk, first_day=TODAY + DAY, **days)
    said = leave(browser)
    assert f"1 of their 2 people is covered by nobody</b></p><p>{day_words(TODAY)}: {rhys.person.full_name}</p>" in said
    assert "Arrange for them" in said
    form = text(browser.get(f"/caseload/cover/?away={jonas.pk}").content)
    assert [f'name="{name}" value="{TODAY}"' in form for name in ("first_day", "last_day")] == [True, True]
    assert ticks(form) == [str(rhys.pk)]
    arrange_cover(actor=lead, episode_id=rhys.pk, staff_id=runa.pk, first_day=TODAY, last_day=TODAY)
    assert "covered by nobody" not in leave(browser)


def test_somebody_whose_cover_ends_before_the_absence_does_is_said(enter: Enter) -> None:
    rhys, ines = of(a_therapist(name="Jonas Wexthorn"), "Rhys", "Ines")
    covered(ines, first=2, end=10)
    covered(rhys, first=2, end=8)
    said = leave(enter(a_lead()))
    days = f"{day_words(TODAY + 8 * DAY)} – {day_words(TODAY + 9 * DAY)}"
    assert f"1 of their 2 people is covered by nobody</b></p><p>{days}: {rhys.person.full_name}</p>" in said


def test_all_whose_cover_ended_today_are_said_where_it_goes_on_tomorrow_and_not_after_a_move(enter: Enter) -> None:
    jonas, runa, lead = a_therapist(name="Jonas Wexthorn"), a_therapist(name="Runa Achterling"), a_lead()
    (rhys,) = of(jonas, "Rhys")
    end_cover(actor=lead, cover_id=covered(rhys).pk, version=1)
    arrange_cover(actor=lead, episode_id=rhys.pk, staff_id=runa.pk, first_day=TODAY + DAY, last_day=TODAY + 2 * DAY)
    browser = enter(lead)
    assert "1 of their 1 people is covered by nobody" in leave(browser)
    Assignment.objects.filter(episode=rhys).update(
        period=(now() - 9 * DAY, Cover.objects.earliest("period").period.upper)
    )
    Assignment.objects.create(
        episode=rhys,
        staff=a_therapist(name="Dele Morrowby"),
        made_by=lead,
        period=(Cover.objects.earliest("period").period.upper, None),
    )
    assert "covered by nobody" not in leave(browser)


def test_people_of_two_sites_who_are_covered_on_the_same_days_are_covered(enter: Enter) -> None:
    jonas, lucie = a_therapist(name="Jonas Wexthorn"), a_therapist(name="Lucie Amberwick")
    far = a_site("Quay Street")
    type(far).objects.filter(pk=far.pk).update(time_zone="Europe/Madrid")
    ines, rhys = (an_episode(assigned_to=jonas), an_episode(assigned_to=jonas, site=far))
    for one, zone in ((ines, ZONE), (rhys, "Europe/Madrid")):
        a_cover(one, lucie, start=clock.day_starts(TODAY + DAY, zone), end=clock.day_starts(TODAY + 5 * DAY, zone))
    assert "covered by nobody" not in leave(enter(a_lead()))


# --- who is covered already -------------------------------------------------------------------------------------------
def ticks(page: str) -> list[str]:
    return re.findall(r'name="episode_ids" value="([^"]+)"[^>]* checked', page)


def sent(jonas: Staff, runa: Staff, people: list[Episode]) -> dict[str, Any]:
    days = {"first_day": str(TODAY), "last_day": str(TODAY + 9 * DAY), "reason": "Leave, shared out"}
    return {"away_id": str(jonas.pk), "staff_id": str(runa.pk), "episode_ids": [str(one.pk) for one in people], **days}


def test_whoever_is_covered_is_not_ticked_and_beside_the_tick_stands_that_this_cover_is_ended_first(
    enter: Enter,
) -> None:
    jonas = a_therapist(name="Jonas Wexthorn")
    rhys, ines, bertil = of(jonas, "Rhys", "Ines", "Bertil")
    covers = [covered(one) for one in (rhys, ines)]
    page = text(enter(a_lead()).get(f"/caseload/cover/?away={jonas.pk}").content)
    assert ticks(page) == [str(bertil.pk)]
    assert page.count("End that cover first") == 2
    for cover in covers:
        row = page[page.index(f'value="{cover.episode_id}"') :].partition("</div>")[0]
        assert f'name="end" value="{cover.pk}" formnovalidate>End that cover first' in row
    first = re.search(r'<form method="post".*?<button type="submit"[^>]*>', page)
    assert first is not None
    assert 'name="end"' not in first[0], "Enter in a line arranges, and ends nothing"


def test_a_refusal_names_everybody_who_is_covered_says_what_to_do_and_keeps_what_was_typed(
    enter: Enter,
    calling: Caller,  # noqa: F811 - the fixture
) -> None:
    jonas, runa, lead = a_therapist(name="Jonas Wexthorn"), a_therapist(name="Runa Achterling"), a_lead()
    people = of(jonas, "Rhys", "Ines", "Bertil")
    for one in people[:2]:
        covered(one)
    said = sent(jonas, runa, people)
    answer = enter(lead).post("/caseload/cover/", said)
    page = text(answer.content)
    assert answer.status_code == 409
    for one in people[:2]:
        assert f"Lucie Amberwick covers {one.person.full_name} already, " in page
    assert "2 people are covered already: end those covers first (“End” beside each on “Cover for leave”" in page
    assert (set(ticks(page)), 'value="Leave, shared out"' in page) == (set(said["episode_ids"]), True)
    assert re.search(rf'value="{runa.pk}"[^>]* checked', page)
    assert not Cover.objects.filter(staff=runa).exists()
    body = {name: said[name] for name in ("away_id", "staff_id", "first_day", "last_day")}
    by_api = calling(lead).post("/api/v1/covers/", body)
    assert (by_api.status_code, len(by_api.json()["reasons"])) == (409, 2)


def test_on_the_way_to_the_end_of_a_cover_and_back_nothing_is_lost_and_who_is_free_then_is_ticked(enter: Enter) -> None:
    jonas, runa = a_therapist(name="Jonas Wexthorn"), a_therapist(name="Runa Achterling")
    rhys, ines, bertil = of(jonas, "Rhys", "Ines", "Bertil")
    cover, _other = covered(rhys), covered(ines)
    browser = enter(a_lead())
    way = browser.post("/caseload/cover/", sent(jonas, runa, [bertil]) | {"last_day": "", "end": str(cover.pk)})
    assert way["Location"] == f"/people/{rhys.pk}/plan/cover/{cover.pk}/end/?leave={jonas.pk}"
    ending = text(browser.get(way["Location"]).content)
    back = f"/caseload/cover/?away={jonas.pk}&kept="
    assert f'href="{back}">Back' in ending
    assert ticks(text(browser.get(back).content)) == [str(bertil.pk)], "back without ending it"
    done = browser.post(way["Location"], {"version": "1"}, follow=True)
    page = text(done.content)
    assert done.redirect_chain == [(back, 302)]
    assert f"Lucie Amberwick no longer stands in for {rhys.person.full_name}." in page
    assert set(ticks(page)) == {str(rhys.pk), str(bertil.pk)}
    assert [f'value="{each}"' in page for each in (TODAY, "Leave, shared out")] == [True, True]
    assert re.search(rf'value="{runa.pk}"[^>]* checked', page)
    assert browser.post(back, sent(jonas, runa, [rhys, bertil])).status_code == 302
    assert set(Cover.objects.filter(staff=runa).values_list("episode_id", flat=True)) == {rhys.pk, bertil.pk}


def test_what_is_kept_is_of_that_leave_alone_and_a_cover_of_nobody_of_theirs_is_not_ended(enter: Enter) -> None:
    jonas, dele, runa = (a_therapist(name=name) for name in ("Jonas Wexthorn", "Dele Morrowby", "Runa Achterling"))
    (rhys,), (ines,) = of(jonas, "Rhys"), of(dele, "Ines")
    cover, other, browser = covered(rhys), covered(ines), enter(a_lead())
    browser.post("/caseload/cover/", sent(jonas, runa, [rhys]) | {"end": str(cover.pk)})
    for address in (f"/caseload/cover/?away={dele.pk}&kept=", f"/caseload/cover/?away={jonas.pk}"):
        assert "Leave, shared out" not in text(browser.get(address).content)
    for nobody in (other.pk, UUID(int=7), "x"):
        astray = browser.post("/caseload/cover/", sent(jonas, runa, [rhys]) | {"end": str(nobody)})
        assert astray["Location"] == f"/caseload/cover/?away={jonas.pk}"


def test_ended_from_the_list_of_all_covers_it_leads_back_there_and_from_the_plan_to_the_plan(enter: Enter) -> None:
    rhys, ines = of(a_therapist(name="Jonas Wexthorn"), "Rhys", "Ines")
    cover, other, browser = covered(rhys), covered(ines), enter(a_lead())
    address = f"/people/{rhys.pk}/plan/cover/{cover.pk}/end/?leave="
    assert f'href="{address}"' in leave(browser)
    assert browser.post(address, {"version": "1"})["Location"] == "/caseload/cover/"
    plain = browser.post(f"/people/{ines.pk}/plan/cover/{other.pk}/end/", {"version": "1"})
    assert plain["Location"] == f"/people/{ines.pk}/plan/"
