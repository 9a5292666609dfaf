"""Keeping and giving out, as a person sees it."""

from __future__ import annotations

import io
import zipfile
from collections.abc import Callable
from typing import Any

import pytest
from django.test import Client

from checklists.episode.services import close_episode
from checklists.keeping import erasing, giving
from checklists.keeping.asking import ask_correction
from checklists.keeping.models import Archive, Erasure, LegalHold, Retention
from checklists.models import Entry
from clinic.audit.models import TrailRow
from clinic.outbox.drain import drain
from tests.makers import (
    a_lead,
    a_person,
    a_records_officer,
    a_site,
    a_therapist,
    ago,
    an_attempt,
    an_episode,
    recorded,
)

pytestmark = pytest.mark.django_db(transaction=True)
Enter = Callable[..., Client]


@pytest.fixture(autouse=True)
def _here(settings: Any, tmp_path: Any) -> None:
    settings.ERASURES_FILE = str(tmp_path / "erasures.jsonl")


def text_of(browser: Client, address: str, status: int = 200) -> str:
    answer = browser.get(address)
    assert answer.status_code == status, answer.content.decode()
    return answer.content.decode()


def a_record() -> Any:
    therapist = a_therapist()
    episode = an_episode(assigned_to=therapist, person=a_person(given_name="Robin", family_name="Ashdown"))
    fact = an_attempt(at=ago(hours=1), note="by the window")
    recorded(therapist, episode, fact)
    return therapist, episode, fact["id"]


def a_closed_record() -> Any:
    therapist, episode, fact = a_record()
    close_episode(actor=a_lead(), episode_id=episode.pk, reason="reached")
    return therapist, episode, fact


def posted(browser: Client, address: str, status: int = 302, **fields: Any) -> str:
    answer = browser.post(address, fields)
    assert answer.status_code == status, answer.content.decode()
    return answer.content.decode()


def form_id(page: str) -> str:
    return page.partition('name="entry_id" value="')[2].partition('"')[0]


# --- the page -------------------------------------------------------------------------------------------------------


def test_the_officer_and_the_lead_have_the_page_and_nobody_else(enter: Enter) -> None:
    assert "Past its retention" in text_of(enter(a_records_officer()), "/keeping/")
    assert "for ever" in text_of(enter(a_lead()), "/keeping/")
    text_of(enter(a_therapist()), "/keeping/", 403)


def test_a_lead_sets_how_long_a_site_keeps_and_the_page_says_so(enter: Enter) -> None:
    site, browser = a_site(), enter(lead := a_lead())
    page = text_of(browser, f"/keeping/sites/{site.pk}/")
    assert "for the law and for local policy to say" in page
    posted(browser, f"/keeping/sites/{site.pk}/", 422, years="10", reason="")
    posted(browser, f"/keeping/sites/{site.pk}/", years="10", reason="Policy 7")
    assert Retention.objects.get().years == 10
    said = text_of(browser, "/keeping/")
    assert "10 years after the end" in said
    assert f"Policy 7 · {lead.name}" in said
    text_of(enter(a_records_officer()), f"/keeping/sites/{site.pk}/", 403)


def test_the_officer_finds_somebody_by_number_and_that_leaves_a_row(enter: Enter) -> None:
    _, episode, _ = a_record()
    officer = a_records_officer()
    browser = enter(officer)
    assert "Robin Ashdown" in browser.post("/keeping/", {"named": episode.person.number}).content.decode()
    assert "not ended" in text_of(browser, f"/keeping/people/{episode.person_id}/")
    assert TrailRow.objects.filter(actor=officer, verb="person.opened", subject_id=str(episode.person_id)).count() == 1


def test_a_hold_is_placed_and_lifted_on_the_page(enter: Enter) -> None:
    _, episode, _ = a_record()
    browser = enter(a_records_officer())
    posted(browser, f"/keeping/people/{episode.person_id}/hold/", reason="a claim")
    assert "Under a legal hold" in text_of(browser, f"/keeping/people/{episode.person_id}/")
    posted(browser, f"/keeping/holds/{LegalHold.objects.get().pk}/lift/", reason="settled")
    assert "Lifted: settled" in text_of(browser, f"/keeping/people/{episode.person_id}/")


# --- the archive ----------------------------------------------------------------------------------------------------


def test_the_file_is_asked_for_made_and_taken_once(enter: Enter) -> None:
    _, episode, _ = a_record()
    browser = enter(a_records_officer())
    posted(browser, f"/keeping/people/{episode.person_id}/archive/", why="the person asked")
    row = Archive.objects.get()
    assert "Waits for its turn" in text_of(browser, f"/keeping/archives/{row.pk}/")
    drain()
    assert "Take the file" in text_of(browser, f"/keeping/archives/{row.pk}/")
    answer = browser.post(f"/keeping/archives/{row.pk}/taken/")
    assert answer.headers["Cache-Control"] == "no-store"
    assert "attachment" in answer.headers["Content-Disposition"]
    assert "index.html" in zipfile.ZipFile(io.BytesIO(answer.content)).namelist()
    posted(browser, f"/keeping/archives/{row.pk}/taken/")
    said = text_of(browser, f"/keeping/archives/{row.pk}/")
    assert "taken already" in said
    assert "Take the file" not in said


def test_progress_is_seen_while_it_is_made(enter: Enter) -> None:
    _, episode, _ = a_record()
    officer = a_records_officer()
    row = giving.ask_archive(actor=officer, person_id=episode.person_id, why="the person asked")
    Archive.objects.update(step="visits", done=12, total=48)
    page = text_of(enter(officer), f"/keeping/archives/{row.pk}/")
    assert "Being made: visits" in page
    assert 'max="48" value="12"' in page


def test_a_lead_takes_nothing_out(enter: Enter) -> None:
    _, episode, _ = a_record()
    row = giving.ask_archive(actor=a_records_officer(), person_id=episode.person_id, why="the person asked")
    browser = enter(a_lead())
    text_of(browser, f"/keeping/people/{episode.person_id}/archive/", 403)
    text_of(browser, f"/keeping/archives/{row.pk}/", 403)
    assert browser.post(f"/keeping/archives/{row.pk}/taken/").status_code == 403


# --- corrections ----------------------------------------------------------------------------------------------------


def test_somebody_says_that_an_entry_is_wrong_and_it_stands_beside_it(enter: Enter) -> None:
    therapist, episode, fact = a_record()
    browser = enter(therapist)
    address = f"/people/{episode.pk}/corrections/?entry={fact}"
    own = f"/people/{episode.pk}/strike-out/?entry={fact}"  # the way leads through it, of what one has recorded oneself
    assert own in text_of(browser, f"/people/{episode.pk}/")
    assert address in text_of(browser, own)
    page = text_of(browser, address)
    assert "Sitting and rising" in page or "attempt" in page.lower() or "both hands" in page.lower()
    fields: dict[str, Any] = {"entry_id": form_id(page), "text": "I never did that.", "asked_by": "Robin Ashdown"}
    posted(browser, address, 422, **{**fields, "text": " "})
    posted(browser, address, **fields)
    posted(browser, address, **fields)  # sent twice
    assert Entry.objects.filter(kind="correction_requested").count() == 1
    said = text_of(browser, f"/people/{episode.pk}/")
    assert "Said to be wrong: “I never did that.”" in said
    assert "Not answered yet; due by" in said


def test_the_lead_strikes_it_out_with_the_answer(enter: Enter) -> None:
    therapist, episode, fact = a_record()
    asked = ask_correction(
        actor=therapist,
        episode_id=episode.pk,
        text="I never did that.",
        asked_by="Robin",
        target=Entry.objects.get(id=fact).id,
    )
    browser = enter(a_lead())
    assert "I never did that." in text_of(browser, "/keeping/")
    address = f"/people/{episode.pk}/corrections/{asked.entry}/"
    page = text_of(browser, address)
    assert "Strike that entry out" in page
    fields: dict[str, Any] = {"entry_id": form_id(page), "answer": "agreed"}
    posted(browser, address, 422, **{**fields, "answer": "declined", "strike": "on"})
    posted(browser, address, 422, **fields)
    posted(browser, address, **fields, strike="on")
    said = text_of(browser, f"/people/{episode.pk}/")
    assert "Struck out: As Robin asked: I never did that." in said
    assert "Agreed: 1 struck out" in said
    text_of(enter(therapist), address, 403)


def test_the_records_officer_writes_a_request_down_without_seeing_the_record(enter: Enter) -> None:
    _, episode, _ = a_record()
    browser = enter(a_records_officer())
    address = f"/people/{episode.pk}/corrections/"
    page = text_of(browser, address)
    posted(browser, address, entry_id=form_id(page), text="The address is old.", asked_by="her daughter")
    assert "The address is old." in text_of(browser, f"/keeping/people/{episode.person_id}/")
    text_of(browser, f"/people/{episode.pk}/", 404)


# --- erasure --------------------------------------------------------------------------------------------------------


def test_one_asks_another_confirms_and_every_page_says_so(enter: Enter, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(erasing, "confirm", lambda actor, proof: None)
    _, episode, _ = a_closed_record()
    officer, lead = enter(a_records_officer()), enter(a_lead())
    address = f"/keeping/people/{episode.person_id}/erasure/"
    assert "What goes, and what stays" in text_of(officer, address)
    fields: dict[str, Any] = {"ground": "Article 17", "reason": "asked for"}
    assert "unless the ground demands it earlier" in posted(officer, address, 409, **fields)
    posted(officer, address, **fields, overrides_retention="on")
    row = Erasure.objects.get()
    text_of(officer, f"/keeping/erasures/{row.pk}/", 403)
    assert "Article 17: asked for" in text_of(lead, "/keeping/")
    page = text_of(lead, f"/keeping/erasures/{row.pk}/")
    assert "It cannot be undone" in page
    posted(lead, f"/keeping/erasures/{row.pk}/", 422, password="x", one_time_code="000000")
    posted(lead, f"/keeping/erasures/{row.pk}/", understood="on", password="x", one_time_code="000000")
    for browser, way, status in (
        (lead, f"/people/{episode.pk}/", 410),
        (lead, f"/people/{episode.pk}/plan/", 410),
        (lead, f"/keeping/people/{episode.person_id}/", 200),
        (officer, f"/keeping/people/{episode.person_id}/", 200),
    ):
        said = text_of(browser, way, status)
        assert "because of Article 17: asked for" in said, way
        assert "Ashdown" not in said, way


def test_a_wrong_password_erases_nothing(enter: Enter) -> None:
    _, episode, _ = a_closed_record()
    row = erasing.ask_erasure(
        actor=a_records_officer(), person_id=episode.person_id, ground="g", reason="r", overrides_retention=True
    )
    browser = enter(a_lead())
    answer = browser.post(f"/keeping/erasures/{row.pk}/", {"understood": "on", "password": "x", "one_time_code": "1"})
    assert answer.status_code in (403, 422)
    assert "Ashdown" in text_of(browser, f"/people/{episode.pk}/")


def test_it_can_be_turned_down_with_the_reason(enter: Enter) -> None:
    _, episode, _ = a_closed_record()
    row = erasing.ask_erasure(
        actor=a_records_officer(), person_id=episode.person_id, ground="g", reason="r", overrides_retention=True
    )
    browser = enter(a_lead())
    posted(browser, f"/keeping/erasures/{row.pk}/down/", reason="the ground does not hold")
    assert "the ground does not hold" in text_of(browser, f"/keeping/people/{episode.person_id}/")
    assert "decided already" in posted(browser, f"/keeping/erasures/{row.pk}/down/", 409, reason="again")


def test_whoever_may_not_make_a_proof_learns_who_does_and_who_may_finds_the_link_at_given_out(enter: Enter) -> None:
    lead, episode = enter(a_lead()), an_episode()
    address, told = f"/keeping/people/{episode.person_id}/", "A proof of a signature, as a file that anybody can check,"
    assert f"{told} is made by a records officer. Nobody is one today." in text_of(lead, address)
    officer = a_records_officer(name="Fenna Inkersole")
    assert f"{told} is made by a records officer: Fenna Inkersole." in text_of(lead, address)
    given_out = text_of(enter(officer), address).partition('id="h-arc"')[2].partition("</section>")[0]
    assert f'href="/proof/?about={episode.reference}"' in given_out
    assert told not in given_out


def test_whoever_may_not_read_who_opened_a_record_learns_whom_to_ask(enter: Enter) -> None:
    a_records_officer(name="Fenna Inkersole")
    lead, officer, episode = a_lead(), a_records_officer(name="Odo Quarrel"), an_episode()
    asked = "Who opened or changed this record? Ask Fenna Inkersole, Odo Quarrel:"
    for address in (f"/people/{episode.pk}/", f"/keeping/people/{episode.person_id}/", "/keeping/"):
        assert asked in text_of(enter(lead), address)
    said = text_of(enter(officer), f"/keeping/people/{episode.person_id}/")
    assert 'href="/trail/person/"' in said
    assert "Ask Fenna" not in said
