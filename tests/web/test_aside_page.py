"""The page of what was set aside: the sender sees what was refused, the lead sees all, and lets late facts in or
not."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from django.test import Client

from checklists.models import Entry, HeldEntry, RefusedEntry
from clinic.models import Staff
from tests.makers import (
    a_fall,
    a_lead,
    a_records_officer,
    a_therapist,
    ago,
    an_attempt,
    an_episode,
    recorded,
)

pytestmark = pytest.mark.django_db
Enter = Callable[..., Client]


def text_of(browser: Client) -> str:
    answer = browser.get("/aside/")
    assert answer.status_code == 200
    return answer.content.decode()


def a_late_fact() -> tuple[Staff, HeldEntry]:
    therapist = a_therapist()
    recorded(therapist, an_episode(assigned_to=therapist), an_attempt(at=ago(days=9)))
    return therapist, HeldEntry.objects.get()


def test_the_sender_reads_what_was_refused_and_why(enter: Enter) -> None:
    therapist = a_therapist()
    recorded(therapist, an_episode(assigned_to=therapist), a_fall(injury="very"))
    said = text_of(enter(therapist))
    assert "injury: unknown injury" in said
    assert "/release/" not in said


def test_the_lead_reads_what_happened_and_when_before_letting_it_in(enter: Enter) -> None:
    a_late_fact()
    said = " ".join(text_of(enter(a_lead())).split())
    assert f"It happened {ago(days=9).day} " in said
    assert said.index("It happened") < said.index("What was sent"), "without unfolding anything"


def test_a_colleague_does_not(enter: Enter) -> None:
    therapist = a_therapist()
    recorded(therapist, an_episode(assigned_to=therapist), a_fall(injury="very"))
    assert "injury" not in text_of(enter(a_therapist()))


def test_the_records_officer_has_no_such_page(enter: Enter) -> None:
    assert enter(a_records_officer()).get("/aside/").status_code == 403


def test_what_was_sent_is_shown_as_text_whatever_is_in_it(enter: Enter) -> None:
    therapist = a_therapist()
    recorded(therapist, an_episode(assigned_to=therapist), an_attempt(note="<script>alert(1)</script>", skill="x"))
    assert "<script>alert(1)" not in text_of(enter(therapist))


def test_a_lead_lets_a_late_fact_in(enter: Enter) -> None:
    therapist, held = a_late_fact()
    browser = enter(a_lead())
    assert "more than seven days ago" in text_of(browser)
    browser.post(f"/aside/held/{held.pk}/release/")
    assert Entry.objects.get(id=held.entry).by == therapist
    assert "more than seven days ago" not in text_of(browser)


def test_a_lead_turns_a_late_fact_away(enter: Enter) -> None:
    _, held = a_late_fact()
    enter(a_lead()).post(f"/aside/held/{held.pk}/turn-away/")
    held.refresh_from_db()
    assert (held.released, Entry.objects.filter(id=held.entry).exists()) == (False, False)


def test_a_therapist_lets_nothing_in(enter: Enter) -> None:
    therapist, held = a_late_fact()
    assert enter(therapist).post(f"/aside/held/{held.pk}/release/").status_code == 403
    assert not Entry.objects.filter(id=held.entry).exists()


def test_what_has_been_seen_to_no_longer_stands_there(enter: Enter) -> None:
    therapist = a_therapist()
    recorded(therapist, an_episode(assigned_to=therapist), an_attempt(skill="flying"))
    browser = enter(therapist)
    browser.post(f"/aside/refused/{RefusedEntry.objects.get().pk}/settle/")
    assert "flying" not in text_of(browser)


def test_the_alerts_page_leads_there(enter: Enter) -> None:
    therapist = a_therapist()
    recorded(therapist, an_episode(assigned_to=therapist), an_attempt(skill="flying"))
    assert "Set aside: 1 sent" in enter(therapist).get("/alerts/").content.decode()
