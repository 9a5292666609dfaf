"""What is installed is what was looked at: every line of both lock files has a digest, and nothing asked for is
missing (ASVS V15.2.4 goes further; this is what a lock can show)."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from packaging.requirements import Requirement
from packaging.utils import canonicalize_name

from clinic.run.places import ROOT

PAIRS = [("requirements.in", "requirements.txt"), ("tests/requirements.in", "tests/requirements.txt")]
PINNED = re.compile(r"^([A-Za-z0-9._-]+)(\[[\w,-]+\])?==(\S+)( ; .+)?$")
DIGEST = re.compile(r"--hash=sha256:[0-9a-f]{64}")


def locked(path: Path) -> dict[str, tuple[str, list[str]]]:
    """Name → version and digests, of every requirement of a lock file. A line of another form fails."""
    found: dict[str, tuple[str, list[str]]] = {}
    for line in path.read_text().replace("\\\n", " ").splitlines():
        bare = line.split(" #")[0].strip()
        if not bare or bare.startswith("#"):
            continue
        said, *digests = re.split(r"\s+(?=--hash=)", bare)
        match = PINNED.match(said.strip())
        assert match, f"{path.name}: {said!r} is not pinned to one version"
        assert all(DIGEST.fullmatch(digest.strip()) for digest in digests), said
        found[canonicalize_name(match[1])] = (match[3], [digest.strip() for digest in digests])
    return found


def asked(path: Path) -> list[Requirement]:
    lines = [line.split("#")[0].strip() for line in path.read_text().splitlines()]
    return [Requirement(line) for line in lines if line and not line.startswith("-")]


@pytest.mark.parametrize(("source", "lock"), PAIRS)
def test_every_line_has_a_digest(source: str, lock: str) -> None:
    found = locked(ROOT / lock)
    assert len(found) > 10
    assert [name for name, (_, digests) in found.items() if not digests] == []


@pytest.mark.parametrize(("source", "lock"), PAIRS)
def test_everything_asked_for_is_locked_to_a_version_that_was_asked_for(source: str, lock: str) -> None:
    found = locked(ROOT / lock)
    missing = [
        str(wanted)
        for wanted in asked(ROOT / source)
        if canonicalize_name(wanted.name) not in found
        or not wanted.specifier.contains(found[canonicalize_name(wanted.name)][0], prereleases=True)
    ]
    assert missing == []


def test_what_the_tests_run_against_is_what_runs() -> None:
    """The same versions in both locks."""
    runs, tested = (locked(ROOT / lock) for _, lock in PAIRS)
    assert {name: (version, tested.get(name)) for name, (version, _) in runs.items() if name not in tested} == {}
    assert [name for name, (version, _) in runs.items() if tested[name][0] != version] == []


@pytest.mark.parametrize("lock", [lock for _, lock in PAIRS])
def test_no_other_index_is_named(lock: str) -> None:
    """Nothing comes from an address of its own."""
    assert not re.search(r"://|--(extra-)?index-url|--find-links|--trusted-host", (ROOT / lock).read_text())


def test_a_line_without_a_digest_would_be_found(tmp_path: Path) -> None:
    """The reader can fail."""
    file = tmp_path / "requirements.txt"
    file.write_text("one==1.0\n")
    assert locked(file)["one"] == ("1.0", [])
    file.write_text("one>=1.0 --hash=sha256:" + "0" * 64)
    with pytest.raises(AssertionError, match="not pinned"):
        locked(file)


def test_the_image_installs_by_digest() -> None:
    compose = (ROOT / "docker-compose.yml").read_text()
    assert "pip install --no-cache-dir --require-hashes --no-deps -r requirements.txt" in compose
