"""Exporting a bundle: by command and by page, who may, what a reference is, and what stands in the trail."""

from __future__ import annotations

import json
from datetime import timedelta
from io import StringIO
from pathlib import Path
from typing import Any
from uuid import UUID

import pytest
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey
from django.core.management import CommandError, call_command
from django.test import Client
from rfc3161_client import HashAlgorithm, TimestampRequestBuilder

from checklists.models import Entry
from checklists.proof.services import export_proof
from clinic import clock
from clinic.audit import trail
from clinic.audit.models import TrailRow
from clinic.errors import Conflict, Denied, Invalid
from clinic.ledger import keys, stamps
from clinic.ledger.models import Checkpoint, LedgerLeaf
from clinic.ledger.note import Checkpoint as Text
from clinic.ledger.note import Signer
from clinic.ledger.note import signed as as_note
from clinic.ledger.seal import seal
from clinic.staff.roles import Role
from tests.ledger.authority import Authority
from tests.ledger.hands import behind
from tests.makers import a_lead, a_records_officer, a_staff, an_attempt, in_through_the_door, now, recorded
from tests.proof.bundles import files_in, said
from tests.proof.forging import an_attacker
from tests.proof.scene import World, exported, newest_note
from tests.services.test_signoff import a_proven_skill, signed

pytestmark = pytest.mark.django_db(transaction=True)


def command(*arguments: str) -> str:
    out = StringIO()
    call_command("export_proof", *arguments, stdout=out, stderr=StringIO())
    return out.getvalue()


def test_the_command_writes_a_bundle_and_says_what_its_reader_will_read(world: World, tmp_path: Path) -> None:
    said_by = command(world.sign_off, str(tmp_path / "b.zip"))
    assert said_by.endswith("THIS BUNDLE HOLDS.\n")
    files = files_in((tmp_path / "b.zip").read_bytes())
    assert said(files)["about"]["reference"] == world.sign_off
    assert {"README.txt", "verify.py", "page.html", "ring.json", "checkpoint.note"} < files.keys()


@pytest.mark.parametrize("spoken", ["reference", "lower", "id"])
def test_an_episode_is_named_by_its_reference_or_id(world: World, spoken: str) -> None:
    reference = world.episode.reference
    given = {"reference": f" {reference} ", "lower": reference.lower(), "id": str(world.episode.pk)}[spoken]
    about = said(exported(given))["about"]
    assert (about["kind"], about["reference"]) == ("episode", reference)


def test_an_episode_is_there_whole_and_a_sign_off_with_what_it_stands_on(world: World) -> None:
    recorded(world.signer, world.episode, an_attempt("sit_stand", "bars_both"))
    seal(now())
    kinds = [json.loads(one["row"])["kind"] for one in said(exported(world.sign_off))["entries"]]
    assert kinds == ["attempt", "attempt", "attempt", "sign_off"]
    assert len(said(exported(world.episode.reference))["entries"]) == Entry.objects.count()


@pytest.mark.parametrize("reference", ["", "E99-0001", "words and more", str(UUID(int=7)), "1" * 300])
def test_what_is_neither_is_said_in_one_sentence(world: World, tmp_path: Path, reference: str) -> None:
    with pytest.raises(CommandError, match="There is no sign-off and no episode"):
        command(reference, str(tmp_path / "b.zip"))
    assert not (tmp_path / "b.zip").exists()


def test_an_entry_that_is_no_sign_off_is_said_in_one_sentence(world: World) -> None:
    attempt = Entry.objects.filter(kind="attempt").first()
    assert attempt is not None
    with pytest.raises(Invalid, match=rf"Entry {attempt.id} is no sign-off \(attempt\)"):
        export_proof(actor=None, reference=str(attempt.id))


def test_a_file_that_is_there_is_not_written_over(world: World, tmp_path: Path) -> None:
    (tmp_path / "b.zip").write_text("mine")
    with pytest.raises(CommandError, match="exists"):
        command(world.sign_off, str(tmp_path / "b.zip"))
    assert (tmp_path / "b.zip").read_text() == "mine"


@pytest.mark.parametrize("role", [role for role in Role if role != Role.RECORDS_OFFICER])
def test_only_a_records_officer_may(world: World, role: Role) -> None:
    before = TrailRow.objects.filter(verb="proof.exported").count()
    with pytest.raises(Denied):
        export_proof(actor=a_staff(role), reference=world.sign_off)
    assert TrailRow.objects.filter(verb="proof.exported").count() == before


def test_that_it_was_given_out_stands_in_the_trail(world: World) -> None:
    officer = a_records_officer()
    export_proof(actor=officer, reference=world.sign_off)
    row = TrailRow.objects.get(verb="proof.exported")
    assert (row.actor, row.episode, row.subject_id) == (officer, world.episode.pk, world.episode.reference)
    assert row.detail["reference"] == world.sign_off
    assert len(row.detail["sha256"]) == 64


def test_the_page_gives_the_file_to_a_records_officer(world: World) -> None:
    browser = Client()
    in_through_the_door(browser, a_records_officer())
    shown = browser.get("/proof/", {"about": world.sign_off})
    assert world.sign_off in shown.content.decode()
    answer = browser.post("/proof/", {"reference": world.sign_off, "checkpoint": world.first.replace("\n", "\r\n")})
    assert answer.status_code == 200
    assert answer.headers["Content-Type"] == "application/zip"
    assert answer.headers["Content-Disposition"].startswith('attachment; filename="proof-sign-off-')
    files = files_in(answer.content)
    assert world.first in [one["note"] for one in said(files)["history"]]


def test_the_page_says_what_is_wrong_with_a_reference(world: World) -> None:
    browser = Client()
    in_through_the_door(browser, a_records_officer())
    answer = browser.post("/proof/", {"reference": "E99-0001", "checkpoint": ""})
    assert answer.status_code == 404
    assert "There is no sign-off and no episode" in answer.content.decode()
    answer = browser.post("/proof/", {"reference": world.sign_off, "checkpoint": "words"})
    assert answer.status_code == 422
    assert "not one of this ledger" in answer.content.decode()


def test_the_page_is_not_a_lead_s(world: World) -> None:
    browser = Client()
    in_through_the_door(browser, a_lead())
    assert browser.get("/proof/").status_code == 403
    assert browser.post("/proof/", {"reference": world.sign_off, "checkpoint": ""}).status_code == 403


@pytest.mark.parametrize("both", [False, True])
def test_the_pages_lead_there_for_whoever_may(world: World, both: bool) -> None:
    lead = a_lead()
    if both:
        lead.role_terms.create(role=Role.RECORDS_OFFICER, period=lead.role_terms.get().period)
    browser = Client()
    in_through_the_door(browser, lead)
    person = browser.get(f"/people/{world.episode.pk}/").content.decode()
    signing = browser.get(f"/people/{world.episode.pk}/sign-off/don_check/").content.decode()
    assert (f"/proof/?about={world.episode.reference}" in person) is both
    assert (f"/proof/?about={world.sign_off}" in signing) is both


def test_checking_is_open_to_everybody_and_touches_nothing() -> None:
    before = TrailRow.objects.count()
    answer = Client().get("/verify/")
    assert answer.status_code == 200
    assert "connect-src 'none'" in answer.headers["Content-Security-Policy"]
    assert "shell.js" not in answer.content.decode()
    assert TrailRow.objects.count() == before


def test_what_is_not_sealed_yet_says_so(world: World, tmp_path: Path) -> None:
    recorded(world.signer, world.episode, an_attempt("sit_stand", "bars_both"))
    with pytest.raises(CommandError, match="does not prove everything"):
        command(world.episode.reference, str(tmp_path / "b.zip"))
    assert [one["sealed"] is None for one in said(files_in((tmp_path / "b.zip").read_bytes()))["entries"]][-2:] == [
        False,
        True,
    ]


def test_a_ledger_that_was_never_sealed_says_so(ledger: Path) -> None:
    signer, episode = a_proven_skill()
    done = signed(signer, episode)
    made = export_proof(actor=None, reference=str(done.entry))
    assert ("open", "Nothing of this is sealed yet: there is no checkpoint.") in made.lines
    assert made.sentence.startswith("NOT PROVED YET")


def test_what_was_changed_behind_the_programme_s_back_does_not_hold(world: World, tmp_path: Path) -> None:
    with behind() as superuser:
        superuser.execute("UPDATE checklists_entry SET at = at - interval '1 day' WHERE kind = 'sign_off'")
    with pytest.raises(CommandError, match="does not prove"):
        command(world.sign_off, str(tmp_path / "b.zip"))
    made = export_proof(actor=None, reference=world.sign_off)
    assert made.sentence == "THIS BUNDLE DOES NOT HOLD."
    assert made.lines[-1][1].endswith("does not stand in the sealed ledger as it stands here.")


def test_leaves_that_were_taken_away_are_said_to_be_missing(world: World) -> None:
    with behind() as superuser:
        superuser.execute("DELETE FROM clinic_ledgerleaf WHERE position = 0")
    with pytest.raises(Conflict, match="verify_ledger"):
        export_proof(actor=None, reference=world.sign_off)


# -- checkpoints from elsewhere, and over time -------------------------------------------------------------------------


def test_a_checkpoint_of_another_ledger_or_newer_than_this_one_is_refused(world: World) -> None:
    other = an_attacker(3, keys.ring().origin)
    note = Checkpoint.objects.order_by("-number").values_list("note", flat=True)[0]
    with pytest.raises(Invalid, match="not one of this ledger"):
        export_proof(
            actor=None, reference=world.sign_off, notes=[as_note(Text(other.name, 3, b"x" * 32, now()), [other])]
        )
    key = Ed25519PrivateKey.from_private_bytes(bytes.fromhex((keys.folder() / "seal" / "1.key").read_text()))
    later = as_note(Text(other.name, 999, b"x" * 32, now()), [Signer(other.name, key)])
    with pytest.raises(Conflict, match="rolled back"):
        export_proof(actor=None, reference=world.sign_off, notes=[later])
    assert said(exported(world.sign_off, note))["history"], "its own checkpoint changes nothing"


def test_days_and_months_can_be_compared_afterwards(ledger: Path, settings: Any) -> None:
    """The last checkpoint of each day, as e-mailed to the records officer, is comparable without having been given."""
    settings.CLOCK_CAN_BE_SET = True
    start = now() - timedelta(days=70)
    daily = {}
    signer, episode = a_proven_skill()
    for day in range(71):
        with clock.at_instant(start + timedelta(days=day)):
            for _ in range(2):
                trail.record(None, "test.done", "test", str(day), at=clock.now())
                seal(clock.now())
        daily[day] = newest_note()
    done = signed(signer, episode)
    seal(now())
    sizes = {one["size"] for one in said(exported(str(done.entry)))["history"]}
    noted = {day: int(note.split("\n")[1]) for day, note in daily.items()}
    assert {noted[day] for day in range(35, 70)} <= sizes
    assert len(sizes) < 50


def test_a_time_stamp_is_enclosed_and_openssl_agrees(world: World, settings: Any, tmp_path: Path) -> None:
    settings.LEDGER_STAMPS = str(tmp_path / "stamps")
    authority = Authority(tmp_path / "authority")
    row = Checkpoint.objects.order_by("-number")[0]
    answer = authority.answer(_request(row.note.encode()))
    at = stamps.verified(answer, row.note.encode(), authority.roots)
    stamps.keep(tmp_path / "stamps", row.size, stamps.Stamp(answer, at))
    recorded(world.signer, world.episode, an_attempt("sit_stand", "bars_both"))
    seal(now())
    made = export_proof(actor=None, reference=world.sign_off)
    assert made.holds, made.lines
    files = files_in(made.content)
    assert files["stamped.note"] == row.note.encode() != files["checkpoint.note"]
    assert authority.agrees(files["stamp.tsr"], files["stamped.note"])
    assert "openssl ts -verify -data stamped.note -in stamp.tsr" in files["README.txt"].decode()
    assert "stamp" not in " ".join(exported(world.episode.reference)), "no stamped checkpoint covers its last row"


def _request(data: bytes) -> bytes:
    return TimestampRequestBuilder().data(data).hash_algorithm(HashAlgorithm.SHA256).build().as_bytes()


def test_a_long_record_is_proved_from_few_reads(world: World, django_assert_max_num_queries: Any) -> None:
    recorded(world.signer, world.episode, *(an_attempt("sit_stand", "bars_both") for _ in range(300)))
    seal(now())
    assert LedgerLeaf.objects.count() > 300
    with django_assert_max_num_queries(60):
        made = export_proof(actor=None, reference=world.episode.reference)
    assert made.holds
