"""The Protocol page: every threshold with its source, adopted by name; until then pages lead there."""

from __future__ import annotations

import re
from collections.abc import Callable

import pytest
from django.test import Client

from checklists.models import Adoption
from checklists.pictures import names
from tests.makers import PASSWORD, a_code, a_lead, a_records_officer, a_therapist, adopted, an_assistant

pytestmark = pytest.mark.django_db(transaction=True)
Enter = Callable[..., Client]


def digest_on(page: str) -> str:
    found = re.search(r'name="digest" value="([0-9a-f]{64})"', page)
    assert found
    return found[1]


def test_a_lead_reads_every_threshold_and_adopts_below(enter: Enter) -> None:
    lead = a_lead(name="Marit Sandhollow")
    browser = enter(lead)
    page = browser.get("/protocol/").content.decode()
    for said in ("Not adopted at this clinic yet", "common practice, no source", "28 days", "at least 40 %", "3 hours"):
        assert said in page
    sent = {"digest": digest_on(page), "password": PASSWORD, "one_time_code": a_code(lead)}
    after = browser.post("/protocol/", sent, follow=True).content.decode()
    assert "Adopted at this clinic" in after
    assert "By Marit Sandhollow on" in after
    assert Adoption.objects.get().adopted_by == lead


def test_its_skills_are_called_as_on_the_staircase_and_found_from_the_top(enter: Enter) -> None:
    page = enter(a_therapist()).get("/protocol/").content.decode()
    for key in ("don_check", "lock_use", "stair_down"):
        assert f'<a href="#skill-{key}">{names.SKILLS[key]}</a>' in page
        assert f'id="skill-{key}"><h2>{names.SKILLS[key]} ' in page
    assert set(re.findall(r'href="#([a-z_-]+)"', page)) <= set(re.findall(r'id="([a-z_-]+)"', page))


def test_a_threshold_is_said_in_the_words_of_the_gym(enter: Enter) -> None:
    page = enter(a_therapist()).get("/protocol/").content.decode()
    assert "Safe attempts in a row, on: one hand on the bars" in page
    assert "bars one" not in page
    assert '<td class="amount">once before it</td>' in page
    assert '<td class="amount">3 times before it</td>' in page


def test_whoever_reads_it_learns_how_it_is_changed_and_by_whom(enter: Enter) -> None:
    page = enter(a_therapist()).get("/protocol/").content.decode()
    assert '<a href="#change">' in page
    for said in ("manage.py store_protocols", "Whoever keeps the server", "A clinic lead reads the new list"):
        assert said in page


def test_a_wrong_password_adopts_nothing_and_says_so(enter: Enter) -> None:
    lead = a_lead()
    browser = enter(lead)
    page = browser.get("/protocol/").content.decode()
    answer = browser.post("/protocol/", {"digest": digest_on(page), "password": "wrong", "one_time_code": a_code(lead)})
    assert answer.status_code == 403
    assert not Adoption.objects.exists()


@pytest.mark.parametrize("who", [a_therapist, an_assistant, a_records_officer])
def test_others_read_it_and_have_nothing_to_adopt_with(enter: Enter, who: Callable[[], object]) -> None:
    page = enter(who()).get("/protocol/")
    assert page.status_code == 200
    assert "Not adopted at this clinic yet" in page.content.decode()
    assert 'id="adopt"' not in page.content.decode()


def test_the_leads_page_leads_there_until_it_is_adopted(enter: Enter) -> None:
    browser = enter(a_lead())
    assert "Read and adopt them" in browser.get("/caseload/").content.decode()
    adopted()
    assert "Read and adopt them" not in browser.get("/caseload/").content.decode()


def test_the_leads_page_says_how_old_the_last_backup_is_and_the_last_that_was_proven(enter: Enter) -> None:
    page = enter(a_lead()).get("/caseload/").content.decode()
    assert re.search(r"<dt>Backup</dt><dd><a href=\"/watch/\">never yet</a></dd>", page)
    assert re.search(r"<dt>Backup proven</dt><dd><a href=\"/watch/\">never yet</a></dd>", page)
