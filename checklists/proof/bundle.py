"""A proof bundle as files: put together from what was read, without asking anybody. Pure."""

from __future__ import annotations

import io
import json
import zipfile
from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass, field
from datetime import datetime
from typing import Any

from checklists.proof.assembled import verify_py
from checklists.proof.offline.check import BUNDLE_FORMAT
from checklists.proof.offline.page import page
from checklists.proof.readme import readme

Files = dict[str, bytes]


@dataclass(frozen=True, slots=True)
class About:
    """What a bundle is about. `kind`: sign_off (`reference` is its entry's id) or episode (its reference)."""

    kind: str
    reference: str
    episode: str
    episode_reference: str
    made_at: str


@dataclass(frozen=True, slots=True)
class Place:
    """Where a row stands in the tree, and the path from it to the root of the bundle's checkpoint (hexadecimal)."""

    position: int
    path: Sequence[str]


@dataclass(frozen=True, slots=True)
class Row:
    """A row of the audit trail: its canonical bytes as text, and its place; none where it is not sealed yet."""

    row: str
    sealed: Place | None


@dataclass(frozen=True, slots=True)
class Signed:
    """What was signed with an entry: the texts of signature and evidence, and the commitments (hexadecimal) of all that
    stood in the record before it, in the order of reception."""

    signature: str
    evidence: str
    before: Sequence[str]


@dataclass(frozen=True, slots=True)
class Entry:
    """An entry of the record. `content` and `salt` are gone where it was `erased` (the sentence says why)."""

    row: str
    sealed: Place | None
    content: str | None
    salt: str | None
    erased: str | None = None
    signed: Signed | None = None


@dataclass(frozen=True, slots=True)
class Earlier:
    """An earlier size of the ledger, with the consistency path to the bundle's checkpoint. `note` may be empty."""

    size: int
    note: str
    path: Sequence[str]


@dataclass(frozen=True, slots=True)
class Bundle:
    """Everything that goes into a bundle. `protocols`: reference → canonical bytes. `stamped`: the note of one of the
    checkpoints, and the time stamp on it."""

    about: About
    entries: Sequence[Entry]
    ring: str
    checkpoint: str = ""
    history: Sequence[Earlier] = ()
    trail: Sequence[Row] = ()
    protocols: Mapping[str, bytes] = field(default_factory=dict)
    stamped: tuple[str, bytes] | None = None

    def said(self) -> dict[str, Any]:
        """What bundle.json says."""
        return {
            "format": BUNDLE_FORMAT,
            "about": asdict(self.about),
            "checkpoint": self.checkpoint,
            "history": [asdict(one) for one in self.history],
            "entries": [asdict(one) for one in self.entries],
            "trail": [asdict(one) for one in self.trail],
        }

    def files(self) -> Files:
        """The files by name."""
        said = self.said()
        files = {
            "README.txt": readme(
                self.about.kind, self.about.episode_reference, stamped=self.stamped is not None
            ).encode(),
            "page.html": page(said).encode(),
            "verify.py": verify_py().encode(),
            "bundle.json": (json.dumps(said, ensure_ascii=False, indent=1) + "\n").encode(),
            "ring.json": self.ring.encode(),
        }
        if self.checkpoint:
            files["checkpoint.note"] = self.checkpoint.encode()
        files |= {f"protocols/{name}.json": document for name, document in self.protocols.items()}
        if self.stamped is not None:
            files |= {"stamped.note": self.stamped[0].encode(), "stamp.tsr": self.stamped[1]}
        return files


def zipped(files: Mapping[str, bytes], at: datetime) -> bytes:
    """The files as a zip file whose members all bear this instant."""
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as bundle:
        for name, content in files.items():
            member = zipfile.ZipInfo(name, at.timetuple()[:6])
            member.compress_type = zipfile.ZIP_DEFLATED
            member.external_attr = (0o755 if name == "verify.py" else 0o644) << 16
            bundle.writestr(member, content)
    return out.getvalue()
