"""People, one person, the page they take home: what is seen, by whom, and what the trail has of it."""

from __future__ import annotations

from collections.abc import Callable
from datetime import timedelta
from typing import Any

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext

from caseload.models import Episode
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
    an_attempt,
    an_entry,
    an_episode,
    imported,
    now,
    recorded,
    stamp,
)

pytestmark = pytest.mark.django_db
Enter = Callable[[Staff], Client]


@pytest.fixture
def runa() -> Staff:
    return a_therapist(name="Runa Achterling")


@pytest.fixture
def ines(runa: Staff) -> Episode:
    return an_episode(assigned_to=runa, person=a_person(given_name="Ines", family_name="Vartholm"))


def page(client: Client, address: str) -> str:
    answer = client.get(address)
    assert answer.status_code == 200
    return " ".join(answer.content.decode().split())


def signed(staff: Staff, skill: str, *, days: int) -> dict[str, object]:
    return an_entry("sign_off", by=staff, at=ago(days=days), skill=skill)


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
    imported(runa, ines, signed(runa, "car", days=5), signed(runa, "stair_up", days=4))
    seen = page(enter(runa), f"/people/{ines.pk}/cleared/")
    assert "Getting in and out of a car</b><br>without holding on" in seen
    assert "holding a rail; your left hand will do" in seen
    assert "no medical advice" in seen


def test_what_lapsed_or_was_set_back_is_not_cleared(enter: Enter, runa: Staff, ines: Episode) -> None:
    change = an_entry("setting_changed", by=a_prosthetist(), at=ago(days=2), setting="alignment")
    imported(runa, ines, signed(runa, "stair_up", days=5), change)
    seen = page(enter(runa), f"/people/{ines.pk}/cleared/")
    assert "Nothing yet" in seen
    assert "Not now: must be shown again first" in seen


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
