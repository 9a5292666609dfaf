"""The manifest beside each backup: what is in it, of which clinic, and that the file is whole.

It bears a mark (HMAC-SHA256, by keys.backup_keys) over everything in it, the dump's own digest included: nothing is
restored that was not made by whoever holds the ledger's keys. It bears no secret and no name of a person. The ledger's
keys are in neither: a copy of the database from which its keys could be taken would prove nothing.
"""

from __future__ import annotations

import hashlib
import hmac
import json
import os
from dataclasses import asdict, dataclass, replace
from datetime import datetime
from pathlib import Path
from typing import Any

import rfc8785

from clinic.ledger import keys
from clinic.run.backup.facts import Facts
from clinic.run.backup.tools import Failed
from clinic.run.progress import Progress

FORMAT = 1
DUMP, MANIFEST = ".dump", ".json"
KEYS = (
    "The ledger's keys, the file of checkpoints, the list of erasures and SECRET_KEY are not in this backup. Without "
    "the keys it can be restored and read, and neither verified nor written to. Keep them apart, in two places."
)
_PIECE = 1024 * 1024


@dataclass(frozen=True, slots=True)
class Manifest:
    """Everything that is said about a backup. `checkpoint`: the newest signed note; empty where nothing was sealed."""

    format: int
    clinic: str
    origin: str
    made_at: str
    server: str
    programme: str
    database: str
    size: int
    sha256: str
    leaves: int
    checkpoint: str
    facts: Facts
    keys: str = KEYS
    mac: str = ""

    @property
    def rows(self) -> int:
        """All rows of all tables."""
        return sum(self.facts["rows"].values())

    @property
    def at(self) -> datetime:
        """When it was made."""
        return datetime.fromisoformat(self.made_at)


def marked(manifest: Manifest) -> Manifest:
    """With the mark by the newest key; without one where there are no keys here."""
    try:
        newest = keys.backup_keys()[0]
    except keys.NoKeys:
        return manifest
    return replace(manifest, mac=_mark(manifest, newest))


def genuine(manifest: Manifest) -> bool:
    """Whether it bears the mark of a key that counts. NoKeys where there are none here."""
    said = manifest.mac.encode() if isinstance(manifest.mac, str) else b""
    return any(hmac.compare_digest(_mark(manifest, key).encode(), said) for key in keys.backup_keys())


def _mark(manifest: Manifest, key: bytes) -> str:
    """Over the canonical bytes (RFC 8785) of all but the mark itself."""
    said = {name: value for name, value in asdict(manifest).items() if name != "mac"}
    return hmac.new(key, rfc8785.dumps(said), hashlib.sha256).hexdigest()


def beside(dump: Path) -> Path:
    """Where the manifest of a backup stands."""
    return dump.with_suffix(MANIFEST)


def write(manifest: Manifest, path: Path) -> None:
    """Write it, whole or not at all."""
    partial = path.with_suffix(f"{MANIFEST}.part")
    text = json.dumps(asdict(manifest), indent=1, ensure_ascii=False)
    with os.fdopen(os.open(partial, os.O_WRONLY | os.O_CREAT | os.O_TRUNC, 0o600), "w") as file:
        file.write(text)
        file.flush()
        os.fsync(file.fileno())
    partial.replace(path)


def read(dump: Path) -> Manifest:
    """The manifest of a backup; Failed where one of the two files is missing or makes no sense."""
    if not dump.is_file():
        raise Failed(f"There is no backup {dump}.")
    path = beside(dump)
    try:
        said: dict[str, Any] = json.loads(path.read_text())
        manifest = Manifest(**said)
    except FileNotFoundError:
        raise Failed(f"{path.name} is missing beside it: without its manifest nobody can tell what it holds.") from None
    except (ValueError, TypeError):
        raise Failed(f"{path.name} cannot be read: it is damaged, or was not written by this programme.") from None
    if manifest.format != FORMAT:
        raise Failed(
            f"{path.name} is of format {manifest.format}; this programme reads {FORMAT}: use the one of its day."
        )
    return manifest


def digest(path: Path, title: str) -> str:
    """SHA-256 of a file, with progress."""
    sha, size = hashlib.sha256(), path.stat().st_size
    progress = Progress(title, max(size // _PIECE, 1))
    with path.open("rb") as file:
        while piece := file.read(_PIECE):
            sha.update(piece)
            progress.step("MB")
    progress.end(f"{size / _PIECE:.1f} MB")
    return sha.hexdigest()
