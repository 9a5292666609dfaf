"""A signature covers the record, the signer, its meaning, its time and how the signer had shown who they were; and
cannot be moved or edited without being found (21 CFR 11.50, 11.70)."""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any
from uuid import UUID

import pytest
import rfc8785
from django.db import IntegrityError, transaction
from django.test import Client

from caseload.models import Episode
from checklists.models import Entry, Signature, SignedEvidence
from checklists.signoff import signature as statements
from checklists.signoff.countersign import Countersign
from checklists.signoff.meaning import Meaning
from checklists.signoff.selectors import faults_of, signatures_of, signed
from checklists.signoff.services import readiness, sign_off, withdraw_sign_off
from checklists.signoff.signature import MEANINGS, Signed, check_signature, digest_of
from clinic.audit.models import TrailRow
from clinic.errors import Invalid
from clinic.staff.models import Staff
from tests.makers import (
    PASSWORD,
    a_code,
    a_lead,
    a_proof,
    a_therapist,
    ago,
    an_attempt,
    an_episode,
    in_through_the_door,
    recorded,
)

pytestmark = pytest.mark.django_db(transaction=True)
SKILL = "don_check"
NAME = "Runa Achterling"


def proven(signer: Staff) -> Episode:
    episode = an_episode(assigned_to=signer)
    for days in (2, 1, 1):
        recorded(signer, episode, an_attempt(SKILL, "none", help="watching", at=ago(days=days)))
    return episode


def signs(signer: Staff, episode: Episode, **more: Any) -> Entry:
    digest = readiness(actor=signer, episode_id=episode.pk, skill=SKILL).digest
    given = {"digest": digest, "proof": a_proof(signer), **more}
    done = sign_off(actor=signer, episode_id=episode.pk, skill=SKILL, **given)
    return Entry.objects.get(id=done.entry)


@pytest.fixture
def runa() -> Staff:
    return a_therapist(name=NAME)


@pytest.fixture
def one(runa: Staff) -> Entry:
    return signs(runa, proven(runa))


# --- what it says -----------------------------------------------------------------------------------------------------
def test_it_says_who_what_when_meaning_what_and_how_shown(runa: Staff, one: Entry) -> None:
    said, kept = json.loads(one.signature.text), SignedEvidence.objects.get()
    assert one.signature.text == rfc8785.dumps(said).decode()
    assert said["signer"] == {"reference": runa.reference, "name": NAME, "role": "therapist"}
    assert (said["meaning"], said["shown"]) == ("approval", "password and one-time code")
    assert (said["entry"], said["evidence"], said["statement"]) == (str(one.id), kept.digest, kept.statement)
    assert said["at"] == json.loads(one.content.body)["at"]
    assert said["record"]["entries"] == Entry.objects.count() - 1


def test_it_holds_as_it_was_written(one: Entry) -> None:
    assert faults_of(one) == []


def test_the_trail_binds_it(one: Entry) -> None:
    row = TrailRow.objects.get(verb="skill.signed_off")
    assert (row.detail["entry"], row.detail["signature"]) == (str(one.id), digest_of(one.signature.text))
    assert (row.detail["meaning"], row.detail["shown"]) == ("approval", "password and one-time code")


def test_a_withdrawal_is_signed_too(runa: Staff, one: Entry) -> None:
    withdraw_sign_off(
        actor=runa, episode_id=one.episode_id, skill=SKILL, reason="Skin broke down.", proof=a_proof(runa)
    )
    back = Entry.objects.get(kind="sign_off_withdrawn")
    assert faults_of(back) == []
    assert (back.signature.meaning, json.loads(back.signed_evidence.evidence)["withdraws"]) == ("review", str(one.id))


def test_a_countersignature_bears_name_meaning_and_how_shown() -> None:
    runa, lead = a_therapist(name=NAME), a_lead(name="Marit Sandhollow")
    episode = an_episode(assigned_to=runa)
    recorded(runa, episode, an_attempt(SKILL, "none", help="watching"))
    entry = signs(runa, episode, countersign=Countersign(lead.username, PASSWORD, "Seen at home.", a_code(lead)))
    second = json.loads(entry.signature.text)["countersigner"]
    assert (second["name"], second["meaning"]) == ("Marit Sandhollow", "responsibility")
    assert second["shown"] == "password and one-time code"
    assert faults_of(entry) == []


@pytest.mark.parametrize("meaning", ["", "witness", "review", "authorship"])
def test_a_sign_off_means_approval_and_nothing_else(runa: Staff, meaning: str) -> None:
    episode = proven(runa)
    with pytest.raises(Invalid, match="approval"):
        signs(runa, episode, meaning=meaning)
    assert not Signature.objects.exists()


def test_the_list_of_meanings_is_closed_in_the_database_too(one: Entry) -> None:
    row = Signature.objects.get()
    row.entry_id, row.meaning = UUID(int=1), "witness"
    with pytest.raises(IntegrityError, match="signature_meaning"), transaction.atomic():
        row.save(force_insert=True)
    assert set(MEANINGS) == set(Meaning.values)


# --- it cannot be moved or edited -------------------------------------------------------------------------------------
def retold(text: str, **changed: Any) -> str:
    return rfc8785.dumps({**json.loads(text), **changed}).decode()


def signer(reference: str, name: str) -> dict[str, str]:
    return {"reference": reference, "name": name, "role": "therapist"}


EDITS: dict[str, Callable[[Signed], Signed]] = {
    "meaning": lambda it: replace(it, signature=retold(it.signature, meaning="review")),
    "name": lambda it: replace(it, signature=retold(it.signature, signer=signer(it.body["by"], "X"))),
    "signer": lambda it: replace(it, signature=retold(it.signature, signer=signer("S-0", NAME))),
    "time": lambda it: replace(it, signature=retold(it.signature, at="2026-01-01T00:00:00Z")),
    "how shown": lambda it: replace(it, signature=retold(it.signature, shown="passkey with user verification")),
    "statement": lambda it: replace(it, body={**it.body, "statement": "I sign everything."}),
    "evidence": lambda it: replace(it, evidence=it.evidence.replace("watching", "alone")),
    "digest of the evidence": lambda it: replace(it, body={**it.body, "evidence": "0" * 64}),
    "skill": lambda it: replace(it, body={**it.body, "skill": "sit_stand"}),
    "author": lambda it: replace(it, body={**it.body, "by": "S-0"}),
    "entry's time": lambda it: replace(it, body={**it.body, "at": "2026-01-01T00:00:00Z"}),
    "an override slipped in": lambda it: replace(it, body={**it.body, "override": {"by": "S-0", "reason": "x"}}),
    "an entry struck from before": lambda it: replace(it, commitments=(it.commitments or ())[1:]),
    "entries swapped": lambda it: replace(it, commitments=tuple(reversed(it.commitments or ()))),
    "no row in the trail": lambda it: replace(it, trail=None),
    "another row": lambda it: replace(it, trail={**(it.trail or {}), "signature": "0" * 64}),
    "another actor": lambda it: replace(it, trail={**(it.trail or {}), "actor": "S-0"}),
    "no text": lambda it: replace(it, signature="{"),
    "an empty text": lambda it: replace(it, signature="{}"),
    "no list either": lambda it: replace(it, signature="[]"),
}  # fmt: skip  # a table, read by row


@pytest.mark.parametrize("edit", EDITS)
def test_an_edit_is_found(one: Entry, edit: str) -> None:
    whole = signed(one)
    assert check_signature(whole) == []
    assert check_signature(EDITS[edit](whole)) != []


def test_a_signature_copied_to_another_entry_is_found(runa: Staff, one: Entry) -> None:
    """Also to one of the same signer, skill and statement, with everything that hangs on it but the entry."""
    other = signs(runa, proven(runa))
    mine, theirs = signed(one), signed(other)
    moved = replace(theirs, signature=mine.signature)
    assert "The signature belongs to another entry." in check_signature(moved)
    with_evidence = replace(theirs, signature=mine.signature, evidence=mine.evidence)
    assert check_signature(with_evidence) != []
    with_trail = replace(theirs, signature=mine.signature, evidence=mine.evidence, trail=mine.trail)
    assert check_signature(with_trail) != []


def test_the_check_needs_no_database_and_no_framework() -> None:
    source = Path(statements.__file__).read_text()
    assert "django" not in source.replace("without the database", "")
    assert "import rfc8785" not in source


# --- printed everywhere -----------------------------------------------------------------------------------------------
@pytest.fixture
def renamed(runa: Staff, one: Entry) -> Entry:
    """Signed, and the signer's name changed afterwards."""
    Staff.objects.filter(pk=runa.pk).update(name="Runa Newname")
    return one


def page(staff: Staff, address: str) -> str:
    browser = Client()
    in_through_the_door(browser, Staff.objects.get(pk=staff.pk))
    return " ".join(browser.get(address).content.decode().split())


@pytest.mark.parametrize("address", ["/people/{}/sign-off/don_check/", "/people/{}/", "/people/{}/cleared/"])
def test_name_time_and_meaning_stand_on_every_page_as_they_were(runa: Staff, renamed: Entry, address: str) -> None:
    said = page(runa, address.format(renamed.episode_id))
    assert NAME in said
    assert "approval" in said
    assert f"{renamed.at:%H}:" in said or f"{renamed.at:%b %Y}" in said


def test_name_time_and_meaning_stand_in_the_answers_of_the_api(runa: Staff, renamed: Entry) -> None:
    browser = Client()
    in_through_the_door(browser, Staff.objects.get(pk=runa.pk))
    answer = browser.get(f"/api/v1/episodes/{renamed.episode_id}/sign-offs/don_check/").json()
    (said,) = answer["signatures"]
    assert (said["name"], said["meaning"], said["shown"]) == (NAME, "approval", "password and one-time code")
    assert said["at"]


def test_signatures_are_listed_newest_first(runa: Staff, one: Entry) -> None:
    withdraw_sign_off(actor=runa, episode_id=one.episode_id, skill=SKILL, reason="Skin.", proof=a_proof(runa))
    assert [row.kind for row in signatures_of(one.episode_id)] == ["sign_off_withdrawn", "sign_off"]
    assert signatures_of(one.episode_id, "sit_stand") == []
