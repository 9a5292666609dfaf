"""People, one person, the page they take home: what is seen, by whom, and what the trail has of it."""

from __future__ import annotations

import re
from collections.abc import Callable
from datetime import timedelta
from typing import Any

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext

from caseload.models import Episode
from caseload.prosthesis.services import fit_component, register_prosthesis
from caseload.review.services import plan_review
from clinic.audit.models import TrailRow
from clinic.staff.models import Staff
from clinic.staff.roles import Role
from tests.makers import (
    a_check,
    a_fall,
    a_lead,
    a_person,
    a_prosthetist,
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
from tests.taught import taught
from tests.web.pages import page

pytestmark = pytest.mark.django_db
Enter = Callable[[Staff], Client]


def signed(staff: Staff, skill: str, *, days: int) -> dict[str, object]:
    return an_entry("sign_off", by=staff, at=ago(days=days), skill=skill)


def todo(client: Client, episode: Episode) -> str:
    """The part of what is to be done."""
    return page(client, f"/people/{episode.pk}/").split('id="h-rev"')[1].split("</section>")[0]


def test_the_masthead_has_two_identifiers_and_the_knee(enter: Enter, runa: Staff, ines: Episode) -> None:
    seen = page(enter(runa), f"/people/{ines.pk}/")
    for said in ("Ines Vartholm", ines.person.number, ines.person.second_identifier, "lock, free swing, yielding"):
        assert said in seen


def test_every_skill_stands_in_the_drawing_and_in_the_list(enter: Enter, runa: Staff, ines: Episode) -> None:
    seen = page(enter(runa), f"/people/{ines.pk}/")
    assert seen.count('role="listitem"') == 25
    assert seen.count('id="skill-') == 25


def test_who_signed_is_named_and_the_day_has_its_months_name(enter: Enter, runa: Staff, ines: Episode) -> None:
    imported(runa, ines, signed(runa, "don_check", days=3))
    seen = page(enter(runa), f"/people/{ines.pk}/")
    assert "by Runa Achterling" in seen
    assert f"by {runa.reference}" not in seen


def test_a_struck_fact_stays_in_the_timeline_with_the_reason(enter: Enter, runa: Staff, ines: Episode) -> None:
    attempt = an_attempt("don_check", "none")
    recorded(runa, ines, attempt, an_entry("struck_out", entry=attempt["id"], reason="Recorded twice"))
    seen = page(enter(runa), f"/people/{ines.pk}/")
    assert 'class="struck"' in seen
    assert "Struck out: Recorded twice (Runa Achterling)" in seen


def test_a_fact_that_came_in_late_says_when(enter: Enter, runa: Staff, ines: Episode) -> None:
    recorded(runa, ines, {**an_attempt("don_check", "none"), "at": stamp(ago(hours=5))})
    assert "came in" in page(enter(runa), f"/people/{ines.pk}/")


def test_a_change_of_setting_names_what_it_set_back_and_what_stands_again(
    enter: Enter, runa: Staff, ines: Episode
) -> None:
    ebo = a_prosthetist()
    change = an_entry("setting_changed", by=ebo, at=ago(days=9), setting="resistance", **{"from": "4", "to": "5"})
    before = [signed(runa, skill, days=20) for skill in ("yield_load", "yield_slow", "stand_load")]
    imported(runa, ines, *before, change, signed(runa, "yield_load", days=2))
    seen = page(enter(runa), f"/people/{ines.pk}/")
    assert "Full weight, knee bending, Yielding to slow down" in seen
    assert "1 of 2 signed again" in seen


def test_a_fall_waits_in_view_until_it_is_reviewed(enter: Enter, runa: Staff, ines: Episode) -> None:
    recorded(runa, ines, a_fall(skill="stand_load"))
    assert "Fall to review" in page(enter(runa), f"/people/{ines.pk}/")
    assert f"{runa.name} reviews it." in page(enter(an_assistant()), f"/people/{ines.pk}/")
    assert f"{runa.name} reviews it." not in page(enter(runa), f"/people/{ines.pk}/")


def test_alerts_that_wait_stand_above_the_falls_in_todays_words_and_lead_to_theirs(
    enter: Enter, runa: Staff, ines: Episode
) -> None:
    recorded(runa, ines, a_fall(skill="stand_load"))
    assert "to answer" not in todo(enter(runa), ines)
    skipped = [an_attempt("stand_load", at=ago(minutes=minutes)) for minutes in (3, 2)]
    recorded(runa, ines, *skipped)
    recorded(runa, other := an_episode(assigned_to=runa), an_attempt("stand_load"))
    whose = "2 alerts, for the therapist or a lead to answer"
    way = r"/alerts/\?first=([0-9a-f-]{36})#act-\1"
    told = [
        (runa, "2 alerts to answer"),
        (a_lead(), "2 alerts to answer"),
        (an_assistant(), whose),
        (a_prosthetist(), whose),
    ]
    for reader, words in told:
        said = todo(enter(reader), ines)
        assert re.search(rf'<a href="{way}">{words}</a>', said)
        assert said.index(words) < said.index("Fall to review")
    assert "1 alert to answer" in todo(enter(runa), other), "of theirs alone"
    for fact in skipped:
        enter(runa).post(f"/alerts/{ines.pk}/{fact['id']}/", {"text": "Sat down, checked together."})
    assert "to answer" not in todo(enter(runa), ines)


def test_where_only_an_alert_waits_the_page_does_not_say_that_nothing_waits(
    enter: Enter, runa: Staff, ines: Episode
) -> None:
    assert "Nothing waits." in todo(enter(runa), ines)
    recorded(runa, ines, an_attempt("stand_load"))
    assert "Nothing waits." not in todo(enter(runa), ines)


def test_older_facts_come_on_the_next_page_and_none_is_shown_twice(enter: Enter, runa: Staff, ines: Episode) -> None:
    client = enter(runa)
    attempts = [
        {**an_attempt("don_check", "none"), "at": stamp(ago(minutes=90 - n)), "note": f"no. {n};"} for n in range(40)
    ]
    recorded(runa, ines, *attempts)
    first = client.get(f"/people/{ines.pk}/").context["page"].page
    second = client.get(f"/people/{ines.pk}/", {"before": first.older}).context["page"].page
    notes = [line.note for line in [*first.rows, *second.rows] if line.note]
    assert notes == [f"no. {n};" for n in reversed(range(40))]


def test_a_long_record_costs_no_more_statements_than_a_short_one(enter: Enter, runa: Staff, ines: Episode) -> None:
    client = enter(runa)
    recorded(runa, ines, a_check(), an_attempt("don_check", "none"))
    page(client, f"/people/{ines.pk}/")
    with CaptureQueriesContext(connection) as short:
        page(client, f"/people/{ines.pk}/")
    recorded(runa, ines, a_check(), *[an_attempt("don_check", "none", note=str(n)) for n in range(30)])
    with CaptureQueriesContext(connection) as long:
        page(client, f"/people/{ines.pk}/")
    assert len(long) <= len(short)


def test_opening_a_person_leaves_a_row_in_the_trail(enter: Enter, runa: Staff, ines: Episode) -> None:
    page(enter(runa), f"/people/{ines.pk}/")
    row = TrailRow.objects.get(verb="person.opened")
    assert (row.actor, row.episode, row.detail) == (runa, ines.pk, {"page": "person", "as": "carries them"})


@pytest.mark.parametrize(
    "address", ["/people/{}/", "/people/{}/cleared/", "/floor/{}/", "/people/{}/sign-off/don_check/"]
)
def test_somebody_elses_person_is_not_found_and_that_is_in_the_trail(enter: Enter, ines: Episode, address: str) -> None:
    stranger = a_therapist()
    assert enter(stranger).get(address.format(ines.pk)).status_code == 404
    assert TrailRow.objects.filter(verb="access.refused", actor=stranger, episode=ines.pk).exists()


def test_people_are_found_by_name_number_and_second_identifier(enter: Enter, runa: Staff, ines: Episode) -> None:
    client = enter(runa)
    an_episode(assigned_to=runa, person=a_person(given_name="Corin", family_name="Ashgrove"))
    for text in ("vart", "Ines V", ines.person.number, ines.person.second_identifier.lower()):
        seen = client.post("/people/", {"named": text}).content.decode()
        assert "Ines Vartholm" in seen
        assert "Corin Ashgrove" not in seen


def test_people_are_found_by_their_therapists_name(enter: Enter, runa: Staff, ines: Episode) -> None:
    an_episode(assigned_to=a_therapist(name="Dele Morrowby"), person=a_person(family_name="Ashgrove"))
    lead = enter(a_lead())
    for text in ("Runa", "achter", "Runa Vart"):
        seen = lead.post("/people/", {"named": text}).content.decode()
        assert ("Ines Vartholm" in seen, "Ashgrove" in seen) == (True, False), text
    assert "Ines Vartholm" not in lead.post("/people/", {"named": "chterling"}).content.decode(), (
        "a name from its beginning"
    )


def test_a_search_stays_within_ones_scope(enter: Enter, ines: Episode) -> None:
    assert "Ines Vartholm" not in enter(a_therapist()).post("/people/", {"named": "Vartholm"}).content.decode()


def test_a_records_officer_has_no_list_of_people(enter: Enter) -> None:
    assert enter(a_staff(Role.RECORDS_OFFICER)).get("/people/").status_code == 403


def test_the_page_to_take_home_says_what_and_how_in_plain_words(enter: Enter, runa: Staff, ines: Episode) -> None:
    imported(runa, ines, *taught(runa, "car", "stair_up"))
    seen = page(enter(runa), f"/people/{ines.pk}/cleared/")
    assert "Getting in and out of a car</b><br>without holding on" in seen
    assert "holding a rail; your left hand will do" in seen
    assert "no medical advice" in seen


def test_the_page_to_take_home_has_the_number_to_ring_or_a_line_for_it(
    enter: Enter, runa: Staff, ines: Episode, settings: Any
) -> None:
    for number, shown in (("00000 100 100", "<b>00000 100 100</b>"), ("", '<span class="by-hand"></span>')):
        settings.CLINIC_TELEPHONE = number
        assert f"Telephone of the clinic: {shown}" in page(enter(runa), f"/people/{ines.pk}/cleared/")


def test_what_lapsed_or_was_set_back_is_not_cleared(enter: Enter, runa: Staff, ines: Episode) -> None:
    change = an_entry("setting_changed", by=a_prosthetist(), at=ago(days=2), setting="alignment")
    imported(runa, ines, signed(runa, "stair_up", days=5), change)
    seen = page(enter(runa), f"/people/{ines.pk}/cleared/")
    assert "Nothing yet" in seen
    assert "Not now: must be shown again first" in seen


def test_whoever_gives_the_page_is_told_what_speaks_against_it(enter: Enter, runa: Staff, ines: Episode) -> None:
    """On the screen alone, in their own words: the page itself is the person's."""
    imported(runa, ines, *taught(runa, "car"))
    client, told = enter(runa), "Not to be given to them yet"
    recorded(runa, ines, a_check(at=ago(minutes=9)))
    assert told not in page(client, f"/people/{ines.pk}/cleared/")
    recorded(runa, ines, an_entry("mode_set", at=ago(minutes=6), mode="locked", support="bars_both"))
    seen = page(client, f"/people/{ines.pk}/cleared/")
    assert seen.index(told) < seen.index("Knee: locked, only set, not proven.") < seen.index("What I am cleared to do")
    recorded(runa, ines, an_attempt("sit_stand", "none", at=ago(minutes=3), help="alone"))
    assert "1 critical alert waits for an answer." in page(client, f"/people/{ines.pk}/cleared/")


def test_printing_leaves_a_row_in_the_trail(enter: Enter, runa: Staff, ines: Episode) -> None:
    page(enter(runa), f"/people/{ines.pk}/cleared/")
    assert TrailRow.objects.get(verb="person.printed").detail == {"what": "cleared to do", "as": "carries them"}


def test_a_prosthetist_sees_the_person_and_cannot_print(enter: Enter, ines: Episode) -> None:
    client = enter(a_prosthetist())
    assert "Ines Vartholm" in page(client, f"/people/{ines.pk}/")
    assert client.get(f"/people/{ines.pk}/cleared/").status_code == 403


def test_a_lead_sees_everybody(enter: Enter, ines: Episode) -> None:
    assert "Ines Vartholm" in page(enter(a_lead()), "/people/")


@pytest.mark.parametrize("days", [0, 1, 7, 30])
def test_a_review_that_is_planned_stands_on_the_page_however_soon(
    enter: Enter, runa: Staff, ines: Episode, days: Any
) -> None:
    plan_review(actor=runa, episode_id=ines.pk, due_on=now().date() + timedelta(days=days))
    said = {0: "due today", 1: "in 1 day"}.get(days, f"in {days} days")
    assert said in page(enter(runa), f"/people/{ines.pk}/")


def ended(ines: Episode, runa: Staff) -> Episode:
    imported(runa, ines, an_entry("episode_closed", by=runa, at=ago(days=2), reason="reached"))
    return ines


@pytest.mark.parametrize("who", [a_lead, a_prosthetist])
def test_a_closed_episode_says_so_and_offers_nothing_that_changes_it(
    enter: Enter, runa: Staff, ines: Episode, who: Callable[[], Staff]
) -> None:
    client = enter(who())
    changing = ("/floor/", "/bench/", "/adjustment", "/paper/", "/sign-off/", "/reassign", "<form")
    for address in (f"/people/{ines.pk}/", f"/people/{ines.pk}/plan/"):
        assert "Episode closed" not in page(client, address)
    ended(ines, runa)
    for address in (f"/people/{ines.pk}/", f"/people/{ines.pk}/plan/"):
        seen = page(client, address)
        assert "Episode closed" in seen
        main = seen[seen.index("<main") : seen.index("</main>")]
        assert [one for one in changing if one in main] == []
    assert "Stairs and slopes today" not in page(client, f"/people/{ines.pk}/")


@pytest.mark.parametrize(
    ("who", "door"), [(a_lead, "floor/{}/"), (a_prosthetist, "bench/{}/"), (an_assistant, "floor/{}/")]
)
def test_the_button_of_a_row_leads_to_where_the_reader_works(
    enter: Enter, runa: Staff, ines: Episode, who: Callable[[], Staff], door: str
) -> None:
    client = enter(who())
    address = door.format(ines.pk)
    assert f'act-soft" href="/{address}"' in page(client, "/people/")
    ended(ines, runa)
    assert f'act-soft" href="/people/{ines.pk}/"' in page(client, "/people/?closed=yes")


def test_an_empty_list_says_why_it_is_empty(enter: Enter) -> None:
    assert "No open episodes yet." in page(enter(a_prosthetist()), "/people/")
    assert "Nobody is assigned to you at present." in page(enter(a_therapist()), "/people/")


def test_the_small_staircase_has_its_key(enter: Enter, runa: Staff, ines: Episode) -> None:
    assert 'class="ms-key"' in page(enter(runa), "/people/")


def test_each_line_has_one_way_to_put_it_right(enter: Enter, runa: Staff, ines: Episode) -> None:
    ebo = a_prosthetist()
    change = an_entry("setting_changed", by=ebo, at=ago(days=3), setting="resistance", **{"from": "4", "to": "5"})
    tried = an_attempt(at=ago(days=2), by=runa)
    imported(runa, ines, change, tried)
    strike, ask = f"/people/{ines.pk}/strike-out/?entry=", f"/people/{ines.pk}/corrections/?entry="
    for who, mine, other in ((runa, tried, change), (ebo, change, tried)):
        seen = page(enter(who), f"/people/{ines.pk}/")
        assert (strike + mine["id"] in seen, ask + mine["id"] in seen) == (True, False)
        assert (strike + other["id"] in seen, ask + other["id"] in seen) == (False, True)
        settings = seen[seen.index("h-set") : seen.index("h-tl")]
        assert change["id"] in settings, "the change is put right where it is read, too"
    # that the person objects is written down from there
    assert ask + tried["id"] in page(enter(runa), strike + tried["id"])


def test_what_was_not_set_back_is_nothing_and_no_dash(enter: Enter, runa: Staff, ines: Episode) -> None:
    imported(runa, ines, an_entry("setting_changed", by=a_prosthetist(), at=ago(days=3), setting="footwear"))
    seen = page(enter(runa), f"/people/{ines.pk}/")
    assert '<td class="back">nothing</td>' in seen
    assert "not recorded" in seen


def test_the_head_names_the_knee_that_is_worn_with_its_serial_number(enter: Enter, runa: Staff, ines: Episode) -> None:
    ebo = a_prosthetist()
    leg = register_prosthesis(actor=ebo, episode_id=ines.pk, side="left", label="everyday")
    fit_component(actor=ebo, prosthesis_id=leg.pk, kind="knee", description="Invented knee 2", serial="SN-4471")
    seen = page(enter(runa), f"/people/{ines.pk}/")
    assert "Invented knee 2" in seen
    assert "SN-4471" in seen


def test_after_an_exchange_nobody_is_said_to_have_set_a_mode(enter: Enter) -> None:
    runa = a_therapist()
    episode = an_episode(assigned_to=runa)
    set_, new = an_entry("mode_set", at=ago(days=2), mode="walking"), an_entry("setting_changed", at=ago(days=1))
    imported(runa, episode, set_)
    assert "only set, not proven, " in page(enter(runa), f"/people/{episode.pk}/")
    imported(a_prosthetist(), episode, {**new, "setting": "knee", "to": "another", "features": []})
    seen = page(enter(runa), f"/people/{episode.pk}/")
    assert "<b>Mode not known</b><br> not proven since " in seen
    assert "only set, not proven, " not in seen
