"""Of an episode's reference the page asks what the file is to hold: one sign-off, by its name, or the whole record."""

from __future__ import annotations

import re
from html import unescape
from typing import Any

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext

from caseload.models import Episode
from checklists.keeping.erasing import ask_erasure, confirm_erasure
from checklists.models import Entry
from checklists.proof.choosing import choice_of
from checklists.proof.services import export_proof
from clinic.audit.models import TrailRow
from clinic.errors import Denied
from clinic.language import dates
from clinic.ledger.seal import seal
from tests.makers import (
    a_lead,
    a_proof,
    a_records_officer,
    a_staff,
    an_entry,
    imported,
    in_through_the_door,
    now,
    recorded,
)
from tests.proof.bundles import files_in, said
from tests.proof.scene import World
from tests.services.test_signoff import a_proven_skill, withdrawn

pytestmark = pytest.mark.django_db(transaction=True)
SKILL = "Putting on, skin and fit"


@pytest.fixture
def browser() -> Client:
    """A records officer's."""
    found = Client()
    in_through_the_door(found, a_records_officer(name="Fenna Inkersole"))
    return found


def offered(answer: Any, status: int = 200) -> list[tuple[str, str]]:
    """What can be chosen on the page: value and words."""
    assert answer.status_code == status
    assert answer.headers["Content-Type"].startswith("text/html")
    found = re.findall(r'name="holds" value="([^"]+)"[^>]*><span>([^<]*)', answer.content.decode())
    return [(value, unescape(words)) for value, words in found]


def asked(browser: Client, reference: str, **more: str) -> Any:
    return browser.post("/proof/", {"reference": reference, "checkpoint": "", **more})


def words_of(world: World) -> str:
    entry = Entry.objects.get(id=world.sign_off)
    at = dates.moment_in(entry.at, world.signer.site.time_zone)
    return f"{SKILL}, signed off {at} by {world.signer.name}"


def test_an_episode_s_reference_leads_to_its_sign_offs_by_name_and_the_whole_record_last(
    world: World, browser: Client
) -> None:
    answer = asked(browser, world.episode.reference.lower())
    many = Entry.objects.filter(episode=world.episode.pk).count()
    assert offered(answer) == [(world.sign_off, words_of(world)), ("whole", f"The whole record: {many} entries")]
    page = answer.content.decode()
    assert " checked" not in page, "nothing is chosen for whoever reads"
    assert f"Episode {world.episode.reference} of {world.episode.person.full_name}" in page
    assert not TrailRow.objects.filter(verb="proof.exported").exists()


def test_a_link_with_the_reference_leads_there_at_once(world: World, browser: Client) -> None:
    answer = browser.get("/proof/", {"about": world.episode.reference})
    assert [value for value, _ in offered(answer)] == [world.sign_off, "whole"]


def test_the_sign_off_that_is_chosen_is_all_that_the_file_holds(world: World, browser: Client) -> None:
    answer = asked(browser, world.episode.reference, holds=world.sign_off)
    assert answer.headers["Content-Type"] == "application/zip"
    bundle = said(files_in(answer.content))
    assert (bundle["about"]["kind"], bundle["about"]["reference"]) == ("sign_off", world.sign_off)
    assert len(bundle["entries"]) == 4 < Entry.objects.filter(episode=world.episode.pk).count()
    assert TrailRow.objects.get(verb="proof.exported").detail["reference"] == world.sign_off


def test_the_whole_record_is_there_for_whoever_wants_it(world: World, browser: Client) -> None:
    answer = asked(browser, world.episode.reference, holds="whole", checkpoint=world.first)
    bundle = said(files_in(answer.content))
    assert (bundle["about"]["kind"], bundle["about"]["reference"]) == ("episode", world.episode.reference)
    assert world.first in [one["note"] for one in bundle["history"]]


def test_whoever_has_the_id_of_a_sign_off_gets_the_file_at_once(world: World, browser: Client) -> None:
    assert asked(browser, world.sign_off).headers["Content-Type"] == "application/zip"
    shown = browser.get("/proof/", {"about": world.sign_off}).content.decode()
    assert world.sign_off in shown
    assert "Make the bundle" in shown


def test_that_the_sign_offs_were_shown_stands_in_the_trail_once_a_showing(world: World, browser: Client) -> None:
    looked = TrailRow.objects.filter(verb="person.opened", episode=world.episode.pk, detail__page="proof")
    asked(browser, world.episode.reference)
    assert looked.get().detail == {"page": "proof"}
    asked(browser, world.episode.reference, holds=world.sign_off)
    assert looked.count() == 1, "the file itself has a row of its own"


def test_a_sign_off_that_was_withdrawn_or_struck_out_is_offered_as_such(world: World, browser: Client) -> None:
    withdrawn(world.signer, world.episode)
    again = an_entry("sign_off", by=world.signer, skill="stair_up")
    imported(world.signer, world.episode, again)
    recorded(a_lead(), world.episode, an_entry("struck_out", entry=again["id"], reason="the wrong person's"))
    newest, first, _ = offered(asked(browser, world.episode.reference))
    assert (newest[0], first[0]) == (again["id"], world.sign_off)
    assert re.fullmatch(
        rf"Stairs up, signed off .* by {world.signer.name}; struck out \d+ \w+ \d+, \d\d:\d\d", newest[1]
    )
    assert re.fullmatch(rf"{re.escape(words_of(world))}; withdrawn \d+ \w+ \d+, \d\d:\d\d", first[1])


def test_a_sign_off_stands_where_its_withdrawal_was_struck_out(world: World, browser: Client) -> None:
    withdrawn(world.signer, world.episode)
    entry = Entry.objects.get(kind="sign_off_withdrawn")
    recorded(a_lead(), world.episode, an_entry("struck_out", entry=str(entry.id), reason="the wrong skill"))
    assert offered(asked(browser, world.episode.reference))[0] == (world.sign_off, words_of(world))


def test_of_an_erased_record_the_sign_offs_are_offered_without_what_they_said(
    world: World, browser: Client, settings: Any, tmp_path: Any
) -> None:
    settings.ERASURES_FILE = str(tmp_path / "erasures.jsonl")
    Episode.objects.filter(pk=world.episode.pk).update(closed_at=now())
    officer, lead = a_records_officer(), a_lead()
    row = ask_erasure(
        actor=officer, person_id=world.episode.person_id, ground="g", reason="r", overrides_retention=True
    )
    confirm_erasure(actor=lead, erasure_id=row.pk, proof=a_proof(lead))
    seal(now())
    found = offered(asked(browser, world.episode.reference))
    assert found[0] == (world.sign_off, words_of(world).replace(SKILL, "Content erased"))
    assert asked(browser, world.episode.reference, holds=world.sign_off).headers["Content-Type"] == "application/zip"


def test_where_nothing_is_signed_off_the_whole_record_is_all_there_is(browser: Client) -> None:
    _, episode = a_proven_skill()
    answer = asked(browser, episode.reference)
    assert [value for value, _ in offered(answer)] == ["whole"]
    assert "No skill of this episode was ever signed off." in answer.content.decode()


def test_what_is_not_of_this_episode_cannot_be_chosen(world: World, browser: Client) -> None:
    _, other = a_proven_skill()
    for holds in (world.sign_off, str(world.episode.pk), "words"):
        answer = asked(browser, other.reference, holds=holds)
        assert "whole" in dict(offered(answer, 422))
        assert f"{holds} is not one of the available choices" in answer.content.decode()
    assert not TrailRow.objects.filter(verb="proof.exported").exists()


def test_after_a_checkpoint_that_is_none_the_choice_stands_as_it_was_made(world: World, browser: Client) -> None:
    answer = asked(browser, world.episode.reference, holds=world.sign_off, checkpoint="words")
    assert [value for value, _ in offered(answer, 422)] == [world.sign_off, "whole"]
    page = answer.content.decode()
    assert "not one of this ledger" in page
    assert re.search(rf'value="{world.sign_off}"[^>]* checked', page)


@pytest.mark.parametrize("about", ["E99-0001", "E26-\0", "words"])
def test_a_link_that_names_nothing_says_so(world: World, browser: Client, about: str) -> None:
    answer = browser.get("/proof/", {"about": about})
    assert answer.status_code in (404, 422)
    assert offered(answer, answer.status_code) == []


def test_nobody_else_is_shown_the_sign_offs(world: World) -> None:
    lead = a_lead()
    browser = Client()
    in_through_the_door(browser, lead)
    assert asked(browser, world.episode.reference).status_code == 403
    assert browser.get("/proof/", {"about": world.episode.reference}).status_code == 403
    with pytest.raises(Denied):
        export_proof(actor=a_staff("therapist"), reference=world.episode.reference)


def test_ten_sign_offs_are_read_as_one(world: World) -> None:
    officer = a_records_officer()

    def statements() -> int:
        with CaptureQueriesContext(connection) as found:
            choice = choice_of(officer, world.episode.reference, at=now())
        assert choice is not None
        return len(found)

    statements()  # the connection learns as whom it is asked
    once = statements()
    imported(world.signer, world.episode, *(an_entry("sign_off", by=world.signer, skill="turns") for _ in range(9)))
    assert statements() == once


def test_the_sign_off_page_says_what_to_tell_the_records_officer(world: World, browser: Client) -> None:
    therapist = Client()
    in_through_the_door(therapist, world.signer)
    page = therapist.get(f"/people/{world.episode.pk}/sign-off/don_check/").content.decode()
    reference = world.episode.reference
    assert "made by a records officer: Fenna Inkersole." in page
    assert f"Tell them the episode ({reference}), the skill ({SKILL}) and the day of the signature" in page
    lead = Client()
    in_through_the_door(lead, a_lead())
    kept = lead.get(f"/keeping/people/{world.episode.person_id}/").content.decode()
    assert "Tell them the reference of the episode; for one signature alone, its skill and its day as well." in kept
