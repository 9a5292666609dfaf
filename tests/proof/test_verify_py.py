"""verify.py in an empty environment: what it says of good bundles, and of everything that somebody did to one."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

from checklists.proof.offline.check import checked, verdict
from clinic.ledger.ring import Ring
from tests.makers import now
from tests.proof.bundles import Said, changed, run, said, verify_py, written
from tests.proof.forging import TAMPERED, Change, an_attacker, committed_anew, in_content, put, sealed_anew
from tests.proof.scene import Made

GOOD = ("sign_off", "episode", "withdrawn")


@pytest.mark.parametrize("name", GOOD)
def test_a_good_bundle_holds(made: Made, tmp_path: Path, name: str) -> None:
    files = getattr(made, name)
    found = verify_py(files, written(tmp_path / "bundle.zip", files))
    assert found.faults == []
    assert found.holds
    assert found.sentence == "THIS BUNDLE HOLDS."
    assert found.lines == checked(files)


def test_it_holds_with_a_key_and_a_checkpoint_from_elsewhere(made: Made, tmp_path: Path) -> None:
    (tmp_path / "kept.note").write_text(made.kept)
    bundle = written(tmp_path / "bundle.zip", made.sign_off)
    given = ["--key", ":".join(made.fingerprint.upper()), "--checkpoint", "kept.note"]
    found = verify_py(made.sign_off, bundle, *given)
    assert found.holds
    assert ("holds", "The key whose fingerprint you gave is one of them.") in found.lines
    assert ("holds", "The checkpoint from outside is the beginning of the ledger in the bundle.") in found.lines
    assert not any("only the bundle itself vouches" in text for _, text in found.lines)


def test_it_reads_a_folder_as_well(made: Made, tmp_path: Path) -> None:
    place = tmp_path / "unpacked"
    for name, content in made.episode.items():
        (place / name).parent.mkdir(exist_ok=True, parents=True)
        (place / name).write_bytes(content)
    (place / ".hidden").write_text("left by a file manager")
    (place / "kept.note").write_text(made.kept)
    done = run(place / "verify.py", "--checkpoint", "kept.note")
    assert done.returncode == 0, done.stdout
    assert "THIS BUNDLE HOLDS." in done.stdout


def test_it_says_by_when_a_signature_was_sealed(made: Made) -> None:
    """By the first checkpoint that has it, not by one before it nor by the newest."""
    first, second = (one["note"].split("\n") for one in said(made.sign_off)["history"])
    assert int(first[1]) < int(second[1])
    (line,) = (text for _, text in checked(made.sign_off) if text.startswith("The signature under"))
    assert "(sign-off of 'Putting on, skin and fit check') is that of" in line
    assert line.endswith(f"approval, sealed by {second[3].removeprefix('at ')}.")


def test_a_sign_off_that_was_withdrawn_says_so(made: Made) -> None:
    lines = checked(made.withdrawn)
    assert verdict(lines)[0]
    skill = "'Putting on, skin and fit check'"
    assert any(status == "note" and f"A sign-off of {skill} was withdrawn" in text for status, text in lines)
    assert any(f"(withdrawal of {skill}) is that of" in text for _, text in lines)
    assert not any("don_check" in text for _, text in lines)
    assert sum(text.startswith("The signature under entry") for _, text in lines) == 2


def test_what_is_not_sealed_yet_is_not_proved(made: Made, tmp_path: Path) -> None:
    found = verify_py(made.unsealed, written(tmp_path / "bundle.zip", made.unsealed))
    assert not found.holds
    assert found.faults == []
    assert found.sentence.startswith("NOT PROVED YET")
    assert sum("is not sealed yet" in text for status, text in found.lines if status == "open") == 2


@pytest.mark.parametrize("name", TAMPERED)
def test_what_was_tampered_with_does_not_hold(made: Made, tmp_path: Path, name: str) -> None:
    base, change, words = TAMPERED[name]
    files = change(getattr(made, base))
    with_its_own = {"verify.py": made.episode["verify.py"]} | files
    found = verify_py(with_its_own, written(tmp_path / "bundle.zip", files))
    assert not found.holds
    assert found.sentence == "THIS BUNDLE DOES NOT HOLD."
    assert len(found.faults) == 1
    assert words in found.faults[0]
    assert found.lines == checked(files)


def test_a_row_said_to_be_unsealed_does_not_pass(made: Made) -> None:
    """Whoever changes a row can drop its path; then nothing vouches for it, and the bundle is not proved."""

    def change(bundle: Said) -> None:
        committed_anew("attempt", result="unsafe")(bundle)
        put(None, "entries", 1, "sealed")(bundle)

    holds, sentence = verdict(checked(changed(made.episode, change)))
    assert (holds, sentence) == (False, "THIS BUNDLE DOES NOT HOLD.")  # the signature remembers what stood before it
    holds, sentence = verdict(checked(changed(made.episode, put(None, "entries", -1, "sealed"))))
    assert not holds
    assert sentence.startswith("NOT PROVED YET")


# -- a whole ledger made up --------------------------------------------------------------------------------------------


def test_a_bundle_made_up_with_other_keys_is_found_by_the_fingerprint_or_a_witness(made: Made) -> None:
    attacker = an_attacker(9, made.stolen.name)
    files = sealed_anew(made.episode, lambda bundle: bundle["entries"].pop(), attacker)
    lines = checked(files)
    assert verdict(lines)[0], "nothing inside can tell: README.txt says so"
    assert any(status == "note" and "only the bundle itself vouches" in text for status, text in lines)
    assert checked(files, key=made.fingerprint)[-1] == ("fails", "The key whose fingerprint you gave is none of them.")
    assert checked(files, outside=made.kept)[-1][1].startswith("The checkpoint from outside is not signed by a key")


def test_a_bundle_made_up_with_the_stolen_key_is_found_by_a_witness(made: Made) -> None:
    """The key alone is not enough: what others have kept contradicts it."""
    files = sealed_anew(made.episode, lambda bundle: bundle["entries"].pop(), made.stolen)
    assert verdict(checked(files, key=made.fingerprint))[0]
    assert not verdict(checked(files, outside=made.kept))[0]
    as_many = sealed_anew(made.episode, padded(int(made.later.split("\n")[1])), made.stolen)
    assert verdict(checked(as_many, key=made.fingerprint))[0]
    assert "contradicts" in checked(as_many, outside=made.later)[-1][1]


def padded(size: int) -> Change:
    """The ledger made up has as many rows as the real one."""

    def change(bundle: Said) -> None:
        entries, trail = bundle["entries"], bundle["trail"]
        while len(entries) + len(trail) < size:
            trail.append({**trail[0], "row": trail[0]["row"].replace('"verb"', f'"more":{len(trail)},"verb"')})

    return change


def test_the_stolen_old_key_is_worth_nothing_after_its_closing(made: Made) -> None:
    new = an_attacker(7, made.stolen.name)
    ring = Ring.load(made.episode["ring.json"].decode()).introduce(made.stolen, new, size=2, at=now())
    ring = ring.close(made.stolen.public, new, size=3, at=now())
    files = sealed_anew(made.episode, lambda bundle: bundle["entries"].pop(), made.stolen, ring)
    assert checked(files)[-1] == ("fails", "The checkpoint is not signed by a key that is good for its size.")
    assert verdict(checked(sealed_anew(made.episode, lambda bundle: None, new, ring)))[0]


def test_a_newer_checkpoint_than_the_bundle_asks_for_a_new_bundle(made: Made) -> None:
    lines = checked(made.episode, outside=made.later)
    assert (
        "open",
        "The bundle cannot be compared with the checkpoint from outside: ask for one made with it.",
    ) in lines
    assert verdict(lines)[1].startswith("NOT PROVED YET")


def test_a_checkpoint_is_found_in_the_e_mail_that_brought_it(made: Made) -> None:
    mail = f"This is the state of the record.\r\n\r\n{made.kept}\nKeys that sign:\nabc\n".replace("\n", "\r\n")
    for text in (mail, made.kept.rstrip("\n"), f"{made.kept}\n\n{made.kept}"):
        assert verdict(checked(made.sign_off, made.fingerprint, text))[0]
    assert not verdict(
        checked(made.sign_off, outside=mail.replace("\r\n14\r\n", "\r\n15\r\n").replace("at 20", "at 19"))
    )[0]


def test_a_bundle_cut_short_or_of_something_else_says_so(made: Made, tmp_path: Path) -> None:
    whole = written(tmp_path / "bundle.zip", made.episode).read_bytes()
    for content in (b"", b"words", whole[: len(whole) // 2], whole[:-1]):
        (tmp_path / "bundle.zip").write_bytes(content)
        found = verify_py(made.episode, tmp_path / "bundle.zip")
        assert (found.holds, found.faults) == (False, ["bundle.zip cannot be read as a bundle."])


def test_a_checkpoint_file_that_is_not_there_says_so(made: Made, tmp_path: Path) -> None:
    found = verify_py(made.episode, written(tmp_path / "bundle.zip", made.episode), "--checkpoint", "nowhere.note")
    assert (found.holds, found.faults) == (False, ["nowhere.note cannot be read."])


def test_without_its_one_library_it_says_what_it_needs(made: Made, tmp_path: Path) -> None:
    (tmp_path / "verify.py").write_bytes(made.episode["verify.py"])
    done = subprocess.run(
        [sys.executable, "-I", "-S", "verify.py"], cwd=tmp_path, capture_output=True, text=True, timeout=60, check=False
    )
    assert done.returncode == 1
    assert "cryptography" in done.stderr
    assert "Traceback" not in done.stderr


def test_in_content_says_what_it_does(made: Made) -> None:
    """The forger's tools change what they say they change."""
    files = changed(made.episode, in_content("attempt", result="unsafe"))
    assert b"<dd>unsafe</dd>" in files["page.html"]
