"""The sheets of a day without power: what stands on them, for whom, and that printing is accounted for."""

from __future__ import annotations

from collections.abc import Callable
from datetime import timedelta
from typing import Any

import pytest
from django.test import Client

from caseload.models import Episode, Visit
from clinic import clock
from clinic.audit.models import TrailRow
from clinic.staff.models import Staff
from tests.makers import (
    a_fall,
    a_lead,
    a_person,
    a_prosthetist,
    a_records_officer,
    a_site,
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
from tests.web.pages import page

pytestmark = pytest.mark.django_db
Enter = Callable[[Staff], Client]


def comes_today(episode: Episode, staff: Staff) -> None:
    Visit.objects.create(episode=episode, site=episode.site, staff=staff, starts_at=now(), minutes=45)


def test_a_sheet_says_whose_it_is_when_it_was_printed_and_that_it_grows_old(
    enter: Enter, runa: Staff, ines: Episode
) -> None:
    seen = page(enter(runa), f"/people/{ines.pk}/paper/")
    assert ines.person.number in seen
    assert ines.person.second_identifier in seen
    assert "<b>Printed " in seen
    assert "by Runa Achterling" in seen
    assert "It may be out of date since" in seen
    assert "never replace clinical judgement, local policy and licensed practice" in seen


@pytest.mark.parametrize(
    ("facts", "words"),
    [
        ([("mode_set", {"mode": "locked"})], "<b>only set, not proven</b>"),
        ([("mode_set", {"mode": "locked"}), ("mode_checked", {"mode": "locked", "ok": True})], "proven "),
        ([("mode_checked", {"mode": "walking", "ok": False})], "<b>checked, and not so</b>"),
    ],
)
def test_a_sheet_says_in_which_mode_the_knee_was_last_and_whether_that_is_proven(
    enter: Enter, runa: Staff, ines: Episode, facts: list[tuple[str, dict[str, Any]]], words: str
) -> None:
    at = [ago(minutes=9 - number) for number in range(len(facts))]
    recorded(runa, ines, *[an_entry(kind, at=at[n], **fields) for n, (kind, fields) in enumerate(facts)])
    seen = page(enter(runa), f"/people/{ines.pk}/paper/")
    knee = seen[seen.index("Knee, as last recorded") : seen.index("Check first")]
    assert facts[-1][1]["mode"] in knee.lower()
    assert words in knee


def test_a_skill_goes_as_far_as_the_advice_allows_with_the_reason_against_more(
    enter: Enter, runa: Staff, ines: Episode
) -> None:
    recorded(runa, ines, an_attempt("stand_load", "bars_both"))
    sheet = enter(runa).get(f"/people/{ines.pk}/paper/").context["sheets"][0]
    [stand] = [one for one in sheet.tried if one.tread.key == "stand_load"]
    assert stand.tread.proven == "bars_both"
    assert (stand.support, stand.help) == ("bars_one", "stand_by")
    assert any("Make a safe attempt with one hand on the bars first." in own for _, own in stand.own), stand.own
    assert {letter for letter, _ in stand.own} <= {why.letter for why in sheet.whys}


def test_after_a_fall_with_no_skill_what_must_not_be_tried_says_why(enter: Enter, runa: Staff, ines: Episode) -> None:
    recorded(runa, ines, a_fall())
    sheet = enter(runa).get(f"/people/{ines.pk}/paper/").context["sheets"][0]
    stairs = next(one for one in sheet.limits if one.tread.key == "stair_down")
    against = {why.letter: why.sentence for why in sheet.whys}
    assert stairs.support == ""
    assert any("fall" in against[letter].lower() for letter, _ in stairs.own)
    assert "Must not be tried" in page(enter(runa), f"/people/{ines.pk}/paper/")


def test_what_an_assistant_may_not_start_stands_among_what_must_not_be_tried(enter: Enter, ines: Episode) -> None:
    sheet = enter(an_assistant()).get(f"/people/{ines.pk}/paper/").context["sheets"][0]
    assert sheet.tried == []
    assert len(sheet.never) == len(sheet.limits) > 20


def test_what_a_knee_lacks_is_said_not_to_apply(enter: Enter, runa: Staff) -> None:
    plain = an_episode(assigned_to=runa, features=())
    seen = page(enter(runa), f"/people/{plain.pk}/paper/")
    assert "Does not apply to this knee, and is not tried:" in seen


def test_the_last_setting_of_each_kind_stands_on_the_sheet(enter: Enter, runa: Staff, ines: Episode) -> None:
    ebo = a_prosthetist()
    told = [
        an_entry("setting_changed", by=ebo, at=ago(days=days), setting="resistance", to=to)
        for days, to in ((9, "four of ten"), (3, "five of ten"))
    ]
    imported(runa, ines, *told)
    seen = page(enter(runa), f"/people/{ines.pk}/paper/")
    assert "Resistance <b>five of ten</b>" in seen
    assert "four of ten" not in seen


def test_the_sheets_of_a_chosen_day_are_of_whom_one_sees_then(enter: Enter, runa: Staff, ines: Episode) -> None:
    comes_today(ines, runa)
    corin = an_episode(assigned_to=runa, person=a_person(given_name="Corin", family_name="Ashgrove"))
    Visit.objects.create(episode=corin, site=corin.site, staff=runa, starts_at=now() + timedelta(days=1), minutes=45)
    day = clock.local_day(now(), corin.site.time_zone) + timedelta(days=1)
    client = enter(runa)
    today, tomorrow = page(client, "/paper/"), page(client, f"/paper/?day={day}")
    assert ("Vartholm" in today, "Ashgrove" in today) == (True, False)
    assert ("Vartholm" in tomorrow, "Ashgrove" in tomorrow) == (False, True)
    assert f"For <b>{day:%A} {day.day} {day:%B}</b>: 1 person" in tomorrow
    assert TrailRow.objects.filter(episode=corin.pk, actor=runa).exists()


def test_a_day_that_is_not_one_of_the_next_is_today(enter: Enter, runa: Staff, ines: Episode) -> None:
    comes_today(ines, runa)
    assert all("Vartholm" in page(enter(runa), f"/paper/?day={day}") for day in ("", "soon", "2020-01-01"))


def test_the_sheets_of_today_are_of_whom_one_sees_today_each_once(enter: Enter, runa: Staff, ines: Episode) -> None:
    other = a_therapist()
    corin = an_episode(assigned_to=other, person=a_person(given_name="Corin", family_name="Ashgrove"))
    comes_today(ines, runa)
    comes_today(corin, other)
    client = enter(runa)
    assert 'href="/paper/"' in page(client, "/")
    assert [one.episode.pk for one in client.get("/paper/").context["sheets"]] == [ines.pk]
    seen = page(client, "/paper/")
    assert "Corin Ashgrove" not in seen
    assert seen.count('<article class="paper') == 1


def test_an_assistant_prints_their_site_and_no_other(enter: Enter, runa: Staff, ines: Episode) -> None:
    quay = a_site("Quay Street")
    there = an_episode(assigned_to=a_therapist(site=quay), site=quay)
    comes_today(ines, runa)
    comes_today(there, runa)
    assert [one.episode.pk for one in enter(an_assistant()).get("/paper/").context["sheets"]] == [ines.pk]


def test_a_day_on_which_nobody_comes_says_where_to_go(enter: Enter, runa: Staff) -> None:
    assert "Nobody of yours is planned for this day" in page(enter(runa), "/paper/")


def test_printing_leaves_a_row_for_each_person(enter: Enter, runa: Staff, ines: Episode) -> None:
    second = an_episode(assigned_to=runa)
    for episode in (ines, second):
        comes_today(episode, runa)
    page(enter(runa), "/paper/")
    rows = TrailRow.objects.filter(verb="person.printed", actor=runa)
    assert {row.episode for row in rows} == {ines.pk, second.pk}
    assert all(row.detail["what"] == "sheet for a day without power" for row in rows)


@pytest.mark.parametrize("make", [a_prosthetist, a_records_officer])
def test_who_does_not_print_gets_no_sheet(enter: Enter, ines: Episode, make: Callable[[], Staff]) -> None:
    client = enter(make())
    assert client.get(f"/people/{ines.pk}/paper/").status_code in (403, 404)
    assert client.get("/paper/").status_code == 403


def test_somebody_elses_person_is_not_found_and_that_is_in_the_trail(enter: Enter, ines: Episode) -> None:
    stranger = a_therapist()
    assert enter(stranger).get(f"/people/{ines.pk}/paper/").status_code == 404
    assert TrailRow.objects.filter(verb="access.refused", actor=stranger, episode=ines.pk).exists()


def test_the_persons_page_leads_to_their_sheet(enter: Enter, runa: Staff, ines: Episode) -> None:
    assert f'href="/people/{ines.pk}/paper/"' in page(enter(runa), f"/people/{ines.pk}/")
    assert f"/people/{ines.pk}/paper/" not in page(enter(a_prosthetist()), f"/people/{ines.pk}/")


def test_a_leads_sheet_of_a_gap_begins_again_in_the_bars(enter: Enter, runa: Staff, ines: Episode) -> None:
    imported(runa, ines, an_attempt("stand_load", "bars_both", by=runa, at=ago(days=40)))
    sheet = enter(a_lead()).get(f"/people/{ines.pk}/paper/").context["sheets"][0]
    stand = next(one for one in sheet.limits if one.tread.key == "stand_load")
    assert stand.support == "bars_both"
    assert sheet.check_first[0].startswith("More than 28 days")


def test_the_sheet_of_two_knees_asks_what_the_form_asks(enter: Enter, runa: Staff) -> None:
    both = an_episode(assigned_to=runa, side="both")
    seen = enter(runa).get(f"/people/{both.pk}/paper/").content.decode()
    ticks = seen.split('<p class="ticks">')[1:]
    start, lock, end = (next(row for row in ticks if what in row) for what in ("Start check", "Lock in", "End check"))
    assert ["both knees" in row for row in (start, lock, end)] == [True, False, True]
    assert [row.count("L / R") for row in (start, lock, end)] == [0, 2, 0]
