"""Where the law made content go, the bundle still holds: that there was an entry, when and by whom, and why it went."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from caseload.models import Episode
from checklists.keeping.erasing import ask_erasure, confirm_erasure
from checklists.models import EntryContent
from checklists.proof.offline.check import checked, verdict
from clinic.ledger.seal import seal
from tests.ledger.hands import behind
from tests.makers import a_lead, a_proof, a_records_officer, now
from tests.proof.bundles import Files, changed, said, verify_py, written
from tests.proof.forging import put
from tests.proof.scene import World, exported

pytestmark = pytest.mark.django_db(transaction=True)
GROUND, REASON = "Act on Records, section 12", "asked for, and nothing stands against it"


@pytest.fixture
def erased(world: World) -> World:
    """Everything about the person was erased, and that was sealed."""
    Episode.objects.filter(pk=world.episode.pk).update(closed_at=now())
    lead = a_lead()
    asked = ask_erasure(
        actor=a_records_officer(),
        person_id=world.episode.person_id,
        ground=GROUND,
        reason=REASON,
        overrides_retention=True,
    )
    confirm_erasure(actor=lead, erasure_id=asked.pk, proof=a_proof(lead))
    seal(now())
    return world


@pytest.mark.parametrize("whole", [True, False])
def test_an_erased_record_still_verifies_as_such(erased: World, tmp_path: Path, whole: bool) -> None:
    assert not EntryContent.objects.filter(entry__episode=erased.episode.pk).exists()
    files = exported(erased.episode.reference if whole else erased.sign_off)
    found = verify_py(files, written(tmp_path / "bundle.zip", files))
    assert found.faults == []
    assert found.holds
    assert any("content was erased" in text for status, text in found.lines if status == "note")
    assert GROUND in files["page.html"].decode()
    for one in said(files)["entries"]:
        assert (one["content"], one["salt"], one["signed"]) == (None, None, None)
        assert REASON in one["erased"]
        assert len(json.loads(one["row"])["commitment"]) == 64


def test_nothing_of_the_content_is_left_in_the_bundle(world: World, request: pytest.FixtureRequest) -> None:
    before = exported(world.episode.reference)
    contents = [json.loads(one["content"]) for one in said(before)["entries"]]
    request.getfixturevalue("erased")
    after = exported(world.episode.reference)["bundle.json"].decode()
    assert not any(one.get("note", "\0") in after or one.get("statement", "\0") in after for one in contents)
    assert '"help"' not in after


def _spoiled(files: Files, name: str) -> Files:
    if name == "no row accounts for it":
        return changed(files, put([], "trail"))
    if name == "the row is changed":
        return changed(files, lambda bundle: bundle["trail"][0].update(row=bundle["trail"][0]["row"] + " "))
    if name == "no reason":
        return changed(files, put(None, "entries", 0, "erased"))
    return changed(files, put("00" * 16, "entries", 0, "salt"))


@pytest.mark.parametrize("name", ["no row accounts for it", "the row is changed", "no reason", "a salt"])
def test_an_erasure_cannot_be_made_up(erased: World, name: str) -> None:
    lines = checked(_spoiled(exported(erased.episode.reference), name))
    assert verdict(lines) == (False, "THIS BUNDLE DOES NOT HOLD.")


def test_content_taken_away_behind_the_programme_s_back_is_no_erasure(world: World) -> None:
    with behind() as superuser:
        superuser.execute("DELETE FROM checklists_entrycontent WHERE entry_id = %s", [world.sign_off])
    lines = checked(exported(world.sign_off))
    assert "the content is missing, and nothing says why" in lines[-1][1]
