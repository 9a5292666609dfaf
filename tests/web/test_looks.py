"""Who looked at this person: for the records officer, and printed for the person who asks."""

from __future__ import annotations

from collections.abc import Callable
from datetime import timedelta

import pytest
from django.test import Client

from clinic.audit.models import TrailRow
from tests.makers import a_lead, a_records_officer, a_therapist, an_attempt, an_episode, now, recorded

pytestmark = pytest.mark.django_db
Enter = Callable[..., Client]


def text(browser: Client, **asked: str) -> str:
    """The page, asked so."""
    today = now().date()
    days = {"first": (today - timedelta(days=365)).isoformat(), "last": (today + timedelta(days=1)).isoformat()}
    answer = browser.post("/trail/person/", {**days, **asked})
    assert answer.status_code == 200
    return str(answer.content.decode())


def test_it_names_who_opened_and_who_wrote_with_role_day_and_why(enter: Enter) -> None:
    mine, lead = a_therapist(name="Runa Achterling"), a_lead(name="Jonas Wexthorn")
    episode = an_episode(assigned_to=mine)
    enter(lead).get(f"/people/{episode.pk}/")
    enter(mine).get(f"/people/{episode.pk}/")
    recorded(mine, episode, an_attempt())
    page = text(enter(a_records_officer()), number=episode.person.number)
    for words in ("Runa Achterling", "Jonas Wexthorn", "carries them", "by role", "wrote", "opened", "Therapist"):
        assert words.lower() in page.lower(), words
    assert page.count("<td><b>") == 2, "a line for each of the two who looked or wrote today"


def test_an_emergency_access_is_told_with_its_reason(enter: Enter) -> None:
    episode = an_episode()
    asked = {"number": episode.person.number, "family_name": episode.person.family_name, "reason": "A fall outside."}
    browser = enter(a_therapist(name="Tove Lindqvarn"))
    assert browser.post("/emergency/", asked).status_code == 302
    assert browser.get(f"/people/{episode.pk}/").status_code == 200
    page = text(enter(a_records_officer()), number=episode.person.number)
    assert "emergency access: “A fall outside.”" in page


def test_days_outside_the_question_are_not_told(enter: Enter) -> None:
    mine = a_therapist(name="Runa Achterling")
    episode = an_episode(assigned_to=mine)
    enter(mine).get(f"/people/{episode.pk}/")
    before = (now() - timedelta(days=3)).date().isoformat()
    page = text(enter(a_records_officer()), number=episode.person.number, first=before, last=before)
    assert "Runa Achterling" not in page
    assert "Nobody, between these two days" in page


def test_a_number_that_nobody_has_is_said_at_the_field(enter: Enter) -> None:
    assert "Nobody has this number" in text(enter(a_records_officer()), number="00-0000")


def test_asking_leaves_its_row_and_is_the_records_officers_alone(enter: Enter) -> None:
    episode, officer = an_episode(), a_records_officer()
    text(enter(officer), number=episode.person.number)
    assert TrailRow.objects.get(verb="looks.listed").actor_id == officer.pk
    assert enter(a_lead()).post("/trail/person/", {"number": episode.person.number}).status_code == 403


def test_the_judge_sees_what_was_opened_and_keeps_a_judgement(enter: Enter) -> None:
    episode = an_episode()
    asked = {"number": episode.person.number, "family_name": episode.person.family_name, "reason": "A fall outside."}
    browser = enter(a_therapist(name="Tove Lindqvarn"))
    browser.post("/emergency/", asked)
    assert "until" in browser.get("/emergency/").content.decode()
    lead = enter(a_lead())
    assert "Tove Lindqvarn" in lead.get("/emergency/all/").content.decode()
    row = TrailRow.objects.get(verb="emergency.opened")
    page = f"/emergency/{row.subject_id}/"
    assert "A fall outside." in lead.get(page).content.decode()
    assert lead.post(page, {"judgement": "needed", "text": "Rightly so."}).status_code == 302
    assert "it was needed" in lead.get("/emergency/all/").content.decode()
