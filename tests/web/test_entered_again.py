"""What was refused and is entered again: whose account it is, what still waits, and that nobody enters it twice."""

from __future__ import annotations

import json
from collections.abc import Callable
from typing import Any

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext

from caseload.models import Episode
from checklists.alerts.selectors import acts
from checklists.models import Entry, EntryContent, HeldEntry, RefusedEntry
from checklists.record.late import settle_refused
from clinic import clock
from clinic.audit.models import TrailRow
from clinic.models import Staff
from clinic.web.tags import moment
from tests.makers import a_fall, a_lead, a_therapist, ago, an_attempt, an_episode, recorded
from tests.web.test_alerts_page import text_of

pytestmark = pytest.mark.django_db
Enter = Callable[..., Client]
ASKS = "see to the person, and have it recorded again"


@pytest.fixture
def dele() -> Staff:
    return a_therapist(name="Dele Morrowby")


@pytest.fixture
def viktor(dele: Staff) -> Episode:
    """Whose fall was sent with an injury that is no known word."""
    episode = an_episode(assigned_to=dele)
    recorded(dele, episode, a_fall(injury="very", circumstances="At the stairs", action="Sat down"))
    return episode


def address_of(episode: Episode) -> str:
    return f"/people/{episode.pk}/paper/enter/?again={RefusedEntry.objects.get().pk}"


def first_shown(browser: Client, episode: Episode) -> dict[str, Any]:
    """What the row says when it is first shown, as a browser would send it."""
    page = browser.get(address_of(episode)).context["page"]
    (line,) = page.lines
    typed = {f"row0-{one.name}": one.value() for one in line.form if one.value()}
    return {"rows": 1, "day": page.day["day"].value(), **typed}


def entered_again(browser: Client, episode: Episode, **changed: str) -> str:
    """The page after the press of “Record it”, as text."""
    sent = {**first_shown(browser, episode), "row0-injury": "minor", **changed}
    return text_of_answer(browser.post(address_of(episode), sent))


def text_of_answer(answer: Any) -> str:
    assert answer.status_code == 200
    return " ".join(answer.content.decode().split())


def answer_address(episode: Episode) -> str:
    return f"/alerts/{episode.pk}/{RefusedEntry.objects.get().pk}/"


def test_the_page_says_under_whose_name_it_will_stand_and_as_told_by_whom(enter: Enter, viktor: Episode) -> None:
    lead = a_lead()
    said = text_of(enter(lead), address_of(viktor))
    assert f"You enter it: it will stand under your name, {lead.name} , as told by Dele Morrowby." in said
    assert "as seen by" not in said


def test_the_words_of_the_entry_keep_whose_account_it_is(enter: Enter, viktor: Episode) -> None:
    lead = a_lead()
    entered_again(enter(lead), viktor)
    fall = Entry.objects.get(kind="fall")
    body = EntryContent.objects.get(entry=fall).body
    assert fall.by == lead
    assert '"circumstances":"As told by Dele Morrowby. At the stairs · Sat down"' in str(body)


def test_they_are_the_leads_to_change(enter: Enter, viktor: Episode) -> None:
    entered_again(enter(a_lead()), viktor, **{"row0-note": "I saw it myself."})
    assert "told by" not in EntryContent.objects.get(entry__kind="fall").body


def test_they_stand_in_the_language_of_the_record_whoever_reads(enter: Enter, viktor: Episode) -> None:
    browser = enter(a_lead(language="es"))
    assert first_shown(browser, viktor)["row0-note"].startswith("As told by Dele Morrowby.")


def test_whoever_sent_it_tells_it_themselves(enter: Enter, dele: Staff, viktor: Episode) -> None:
    said = text_of(enter(dele), address_of(viktor))
    assert "You enter it: it will stand under your name, Dele Morrowby ." in said
    assert "told by" not in said
    assert first_shown(enter(dele), viktor)["row0-note"] == "At the stairs · Sat down"


def test_a_row_whose_words_are_folded_away_shows_them_where_there_are_some(enter: Enter, dele: Staff) -> None:
    episode = an_episode(assigned_to=dele)
    recorded(dele, episode, an_attempt(result="so-so"))
    (line,) = enter(a_lead()).get(address_of(episode)).context["page"].lines
    assert line.form["note"].value() == "As told by Dele Morrowby."
    assert line.form.open


def test_after_it_the_refused_one_is_seen_to_and_its_alert_still_waits(enter: Enter, viktor: Episode) -> None:
    said = entered_again(enter(a_lead()), viktor)
    assert "The refused one is thereby seen to. <b>Its critical alert still waits for an answer:</b>" in said
    assert f'href="{answer_address(viktor)}?next=/people/{viktor.pk}/">Say what was done</a>' in said


def test_once_it_is_recorded_nobody_is_told_to_enter_it_any_more(enter: Enter, viktor: Episode) -> None:
    said = entered_again(enter(a_lead()), viktor)
    assert "Put right what was wrong" not in said
    assert "can enter it too" not in said


def test_the_answer_leads_back_to_the_person(enter: Enter, viktor: Episode) -> None:
    browser = enter(a_lead())
    entered_again(browser, viktor)
    there = f"{answer_address(viktor)}?next=/people/{viktor.pk}/"
    assert f'href="/people/{viktor.pk}/">Back</a>' in text_of_answer(browser.get(there))
    assert browser.post(there, {"text": "Seen by the doctor."}).headers["Location"] == f"/people/{viktor.pk}/"


def test_nothing_is_said_of_an_alert_that_is_answered(enter: Enter, viktor: Episode) -> None:
    browser = enter(a_lead())
    browser.post(answer_address(viktor), {"text": "Seen by the doctor."})
    said = entered_again(browser, viktor)
    assert "The refused one is thereby seen to." in said
    assert "still waits" not in said


def test_what_was_not_recorded_is_not_seen_to(enter: Enter, viktor: Episode) -> None:
    assert "thereby seen to" not in entered_again(enter(a_lead()), viktor, **{"row0-injury": ""})
    assert RefusedEntry.objects.get().settled_at is None


def test_the_alert_says_that_it_was_entered_again_and_asks_for_it_no_more(enter: Enter, viktor: Episode) -> None:
    lead = a_lead()
    browser = enter(lead)
    for page in ("/alerts/", answer_address(viktor)):
        assert ASKS in text_of(browser, page)
    entered_again(browser, viktor)
    row = RefusedEntry.objects.get()
    assert row.settled_at is not None
    for page in ("/alerts/", answer_address(viktor), "/day-end/"):
        said = text_of(browser, page)
        assert f"It was entered again on {moment(row.settled_at)} by {lead.name}." in said
        assert ASKS not in said


def test_it_says_so_when_its_sender_recorded_it_again_on_the_tablet(enter: Enter, dele: Staff, viktor: Episode) -> None:
    right = a_fall(injury="minor")
    sent = {"reason": f"recorded again as {right['id']}", "again_as": right["id"]}
    wrong = json.loads(RefusedEntry.objects.get().raw)["id"]
    browser = enter(dele)
    address = f"/api/v1/episodes/{viktor.pk}/entries/{wrong}/settled/"
    assert browser.post(address, sent, content_type="application/json").status_code == 204
    assert "by Dele Morrowby and is not in the record: look under Set aside." in text_of(browser, "/alerts/")
    recorded(dele, viktor, right)
    assert "It was entered again on" in text_of(browser, "/alerts/")


def test_what_waits_for_a_lead_is_not_called_entered(enter: Enter, dele: Staff) -> None:
    episode = an_episode(assigned_to=dele)
    recorded(dele, episode, a_fall(injury="very", at=ago(days=9)))
    browser = enter(dele)
    entered_again(browser, episode)
    assert HeldEntry.objects.count() == 1
    assert "is not in the record: look under Set aside" in text_of(browser, "/alerts/")


def test_what_was_only_seen_to_is_not_called_entered(enter: Enter, dele: Staff, viktor: Episode) -> None:
    browser = enter(dele)
    browser.post(f"/aside/refused/{RefusedEntry.objects.get().pk}/settle/")
    said = text_of(browser, "/alerts/")
    assert "Dele Morrowby said on" in said
    assert "that it is seen to." in said
    assert ASKS not in said
    assert "entered again" not in said


def test_the_trail_names_the_entry_as_which_it_was_entered_again(enter: Enter, viktor: Episode) -> None:
    entered_again(enter(a_lead()), viktor)
    row = TrailRow.objects.get(verb="entry.settled")
    assert row.detail == {"as": str(Entry.objects.get(kind="fall").id)}


def test_what_a_colleague_entered_again_meanwhile_is_not_recorded_twice(
    enter: Enter, dele: Staff, viktor: Episode
) -> None:
    lead = a_lead()
    browser, address = enter(lead), address_of(viktor)
    sent = {**first_shown(browser, viktor), "row0-injury": "minor"}
    entered_again(enter(dele), viktor)
    said = text_of_answer(enter(lead).post(address, sent))
    assert "Nothing was recorded" in said
    assert "by Dele Morrowby. What is something else goes into a sheet of its own." in said
    assert "by Dele Morrowby. What is something else" in text_of(enter(lead), address)
    assert Entry.objects.get(kind="fall").by == dele


def test_the_same_row_sent_twice_is_no_fault(enter: Enter, viktor: Episode) -> None:
    browser, address = enter(a_lead()), address_of(viktor)
    sent = {**first_shown(browser, viktor), "row0-injury": "minor"}
    browser.post(address, sent)
    said = text_of_answer(browser.post(address, sent))
    assert "recorded before" in said
    assert "Nothing was recorded" not in said


def test_however_many_are_seen_to_the_alerts_ask_no_more_often(dele: Staff) -> None:
    episode = an_episode(assigned_to=dele)

    def asked(many: int) -> int:
        recorded(dele, episode, *(a_fall(injury="very") for _number in range(many)))
        for row in RefusedEntry.objects.filter(settled_at=None):
            settle_refused(actor=dele, refused_id=row.pk)
        with CaptureQueriesContext(connection) as statements:
            assert all(act.seen_to for act in acts(dele, at=clock.now()))
        return len(statements)

    assert asked(1) == asked(4)
