"""Keeping and giving out in a real browser: an archive is made before one's eyes and saved once; a record is corrected,
and erased by two people; no page has a barrier."""

from __future__ import annotations

import hashlib
import os
import zipfile
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Page, expect

from checklists.episode.services import close_episode
from checklists.keeping.asking import ask_correction
from checklists.keeping.models import Archive
from checklists.keeping.services import place_hold, set_retention
from clinic.outbox.drain import drain
from tests.browser.looking import in_both_schemes
from tests.makers import (
    PASSWORD,
    a_code,
    a_lead,
    a_person,
    a_records_officer,
    a_therapist,
    ago,
    an_attempt,
    an_episode,
    recorded,
)

Enter = Callable[..., Page]


@pytest.fixture(autouse=True)
def _here(settings: Any, tmp_path: Path) -> None:
    settings.ERASURES_FILE = str(tmp_path / "erasures.jsonl")


def shown(page: Page, name: str) -> None:
    """No barrier, nothing wider than the window, in light and in dark."""
    page.emulate_media(reduced_motion="reduce")
    assert in_both_schemes(page) == [], name
    for scheme in ("light", "dark"):
        if folder := os.environ.get("LOOK_AT"):
            page.emulate_media(color_scheme=scheme)
            page.screenshot(path=f"{folder}/{name}-{scheme}.png", full_page=True)
    assert page.evaluate("document.documentElement.scrollWidth <= innerWidth"), name


def a_record() -> Any:
    therapist = a_therapist(name="Imke Varga")
    person = a_person(given_name="Robin", family_name="Ashdown")
    episode = an_episode(assigned_to=therapist, person=person)
    fact = an_attempt(at=ago(hours=1), note="by the window")
    recorded(therapist, episode, fact, an_attempt(support="bars_one", at=ago(minutes=30)))
    return therapist, episode, fact["id"]


def test_the_whole_record_is_made_before_ones_eyes_and_saved_once(enter: Enter, tmp_path: Path) -> None:
    _, episode, _ = a_record()
    page = enter(a_records_officer(), "/keeping/", size="tablet")
    page.get_by_label("Number or name").fill(episode.person.number)
    page.get_by_role("button", name="Look up").click()
    page.get_by_role("link", name=episode.person.number).first.click()
    page.get_by_role("link", name="The whole record as one file").click()
    shown(page, "archive-ask")
    page.get_by_label("For whom").fill("Robin Ashdown, who asked on 3 March")
    page.get_by_role("button", name="Put it together").click()
    expect(page.get_by_text("Waits for its turn")).to_be_visible()
    Archive.objects.update(step="visits", done=20, total=48)
    expect(page.get_by_text("Being made: visits")).to_be_visible(timeout=8_000)
    shown(page, "archive-making")
    drain()
    take = page.get_by_role("button", name="Take the file")
    expect(take).to_be_visible(timeout=8_000)
    shown(page, "archive-ready")
    with page.expect_download() as download:
        take.click()
    saved = tmp_path / "record.zip"
    download.value.save_as(saved)
    assert hashlib.sha256(saved.read_bytes()).hexdigest() == Archive.objects.get().digest
    with zipfile.ZipFile(saved) as file:
        (tmp_path / "index.html").write_bytes(file.read("index.html"))
    reader = page.context.new_page()
    reader.goto((tmp_path / "index.html").as_uri())
    expect(reader.get_by_role("heading", level=1)).to_have_text("The whole record of Robin Ashdown")
    shown(reader, "archive-page")
    page.reload()
    expect(page.get_by_text("The file is not on the server any more")).to_be_visible()


def test_what_somebody_says_is_wrong_stands_beside_the_entry_until_the_lead_answers(enter: Enter) -> None:
    therapist, episode, fact = a_record()
    page = enter(therapist, f"/people/{episode.pk}/", size="tablet upright")
    page.locator(f'a[href*="entry={fact}"]', has_text="strike out").click()
    page.get_by_role("link", name="Write that down instead").click()
    shown(page, "correction-ask")
    page.get_by_label("What is wrong").fill("I was away that day.")
    page.get_by_label("Who asks").fill("Robin Ashdown")
    page.get_by_role("button", name="Write it down").click()
    expect(page.get_by_text("Said to be wrong: “I was away that day.”")).to_be_visible()
    shown(page, "person")
    desk = enter(a_lead(), "/keeping/", size="desk")
    desk.get_by_role("link", name="Answer").click()
    shown(desk, "correction-answer")
    desk.get_by_role("radio", name="agreed").check()
    desk.get_by_text("Strike that entry out").click()
    desk.get_by_role("button", name="Answer").click()
    expect(desk.get_by_text("Agreed: 1 struck out").first).to_be_visible()
    shown(desk, "person-answered")


def test_a_record_is_erased_by_two_people(enter: Enter) -> None:
    _, episode, _ = a_record()
    lead, officer = a_lead(), a_records_officer()
    close_episode(actor=lead, episode_id=episode.pk, reason="reached")
    page = enter(officer, f"/keeping/people/{episode.person_id}/", size="tablet upright")
    page.get_by_role("link", name="Ask for an erasure").click()
    shown(page, "erasure-ask")
    page.get_by_label("Provision of law").fill("Article 17 of the regulation")
    page.get_by_label("Why").fill("asked for, and nothing stands against it")
    page.get_by_text("although the record is still to be kept").click()
    page.get_by_role("button", name="Ask for it").click()
    expect(page.get_by_text("waits for a lead")).to_be_visible()
    desk = enter(lead, "/keeping/")
    desk.get_by_role("link", name="Decide").click()
    shown(desk, "erasure-confirm")
    desk.get_by_text("I have compared the number").click()
    desk.get_by_label("Code of your second factor").fill(a_code(lead))
    desk.get_by_label("Your password", exact=True).fill(PASSWORD)
    desk.get_by_role("button", name="Erase it").click()
    expect(desk.get_by_text("The content of this record is gone")).to_be_visible()
    shown(desk, "erased")
    desk.goto(f"/people/{episode.pk}/")
    expect(desk.get_by_text("because of Article 17 of the regulation")).to_be_visible()
    shown(desk, "erased-person")


@pytest.mark.parametrize("size", ["tablet", "tablet upright", "desk"])
def test_no_page_of_it_has_a_barrier(enter: Enter, size: str) -> None:
    therapist, episode, _ = a_record()
    officer, lead = a_records_officer(), a_lead()
    ask_correction(actor=therapist, episode_id=episode.pk, text="Not so.", asked_by="Robin Ashdown", target=None)
    set_retention(actor=lead, site_id=episode.site_id, years=10, reason="Policy 7 of Alder Reach")
    place_hold(actor=officer, person_id=episode.person_id, reason="A claim of 3 March")
    page = enter(lead, "/keeping/", size=size)
    name = size.replace(" ", "-")
    shown(page, f"keeping-{name}")
    for address in (f"/keeping/people/{episode.person_id}/", f"/keeping/sites/{episode.site_id}/"):
        page.goto(address)
        shown(page, f"{address.split('/')[2]}-{name}")
