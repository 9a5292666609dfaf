"""Where the embedded servers may go, and what is said where they may not."""

import os
import subprocess
from pathlib import Path

import pytest

from clinic.run import embedded, places
from clinic.run.child import is_root, server_account
from clinic.run.claim import Claim
from clinic.run.places import Unusable
from tests.servers import open_folder

only_root = pytest.mark.skipif(not is_root(), reason="only root's servers run under another account")


@pytest.fixture
def closed(tmp_path: Path) -> Path:
    """A programme in a folder that only its owner may enter."""
    folder = tmp_path / "closed" / "package" / "bin"
    folder.mkdir(parents=True)
    programme = folder / "programme"
    programme.write_text("#!/bin/sh\necho version\n")
    programme.chmod(0o755)
    (tmp_path / "closed").chmod(0o700)
    return folder


@only_root
def test_a_programme_in_a_closed_folder_is_copied_to_where_the_servers_may_go(
    closed: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    with open_folder() as outside:
        monkeypatch.setattr(places, "_outside", lambda: outside)
        found = places._reachable(closed, "programme")
        assert found.is_relative_to(outside)
        answer = subprocess.run([found / "programme"], capture_output=True, text=True, cwd="/", **server_account())
        assert answer.stdout == "version\n"
        assert places._reachable(closed, "programme") == found, "copied once"
    assert (tmp_path / "closed").stat().st_mode & 0o777 == 0o700, "root's folder stays closed"


def test_a_data_folder_that_cannot_be_made_is_named(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (tmp_path / "file").touch()
    monkeypatch.setenv("DATA_DIR", str(tmp_path / "file" / "data"))
    with pytest.raises(Unusable, match="cannot be made: Not a directory"):
        places.data_folder()


@only_root
def test_a_folder_that_a_stranger_made_in_the_shared_place_is_not_trusted(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(places, "OUTSIDE", tmp_path)
    ours = places._outside()
    os.chown(ours, 12345, 12345)
    with pytest.raises(Unusable, match="was made by somebody else"):
        places._outside()


def test_a_claim_is_held_by_one_at_a_time_and_given_back(tmp_path: Path) -> None:
    mine, theirs = Claim(tmp_path), Claim(tmp_path)
    assert mine.take()
    assert not theirs.take()
    mine.announce("http://here", {"DATABASE_URL": "x"})
    assert (tmp_path / "running.json").stat().st_mode & 0o077 == 0
    running = theirs.running()
    assert running is not None
    assert running["environment"] == {"DATABASE_URL": "x"}
    mine.release()
    assert theirs.running() is None
    assert theirs.take()
    theirs.release()


def test_a_command_waits_for_another_and_says_so(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    holder = Claim(tmp_path)
    assert holder.take()
    monkeypatch.setenv("DATA_DIR", str(tmp_path))
    monkeypatch.setattr(embedded, "PATIENCE", 0.2)
    with pytest.raises(Unusable, match="still in use by another command"), embedded.lent(migrated=True):
        pytest.fail("it is not ours")
    assert "waiting for it" in capsys.readouterr().out
    holder.release()
