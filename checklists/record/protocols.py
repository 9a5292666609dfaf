"""The store of protocol versions: each document is kept, with its digest, when it is first used, and never changes
after.

Processes keep parsed documents in memory; a version is immutable, so there is nothing to refresh.
"""

from __future__ import annotations

import json
from datetime import datetime
from functools import cache
from pathlib import Path

from checklists.domain import Protocol, ProtocolRefused, load_protocol
from checklists.record.models import ProtocolVersion
from clinic.errors import Conflict

FOLDER = Path(__file__).resolve().parent.parent / "protocols"
CURRENT_KEY = "above_knee"


class ProtocolChanged(Conflict):
    """Other bytes under a version that is in use: nothing may start on them."""

    code = "protocol_changed"


def store_all(at: datetime, folder: Path = FOLDER) -> list[ProtocolVersion]:
    """Store every document of the folder at its first use. One that differs from what is stored stops the start."""
    return [store(path.read_text(encoding="utf-8"), at, name=path.name) for path in sorted(folder.glob("*.json"))]


def store(text: str, at: datetime, *, name: str) -> ProtocolVersion:
    """Store one document, or find it stored already. Twice at once is harmless."""
    try:
        protocol = _parsed(text)
    except ProtocolRefused as fault:
        raise Conflict(f"The protocol {name} is refused: {fault}. Correct it at that place.") from None
    kept, _ = ProtocolVersion.objects.get_or_create(
        key=protocol.key,
        version=protocol.version,
        defaults={"digest": protocol.digest, "document": text, "stored_at": at},
    )
    if kept.digest != protocol.digest:
        raise ProtocolChanged(
            f"The protocol {name} is not what was stored as {kept} on {kept.stored_at:%Y-%m-%d}: a version that was "
            "used never changes. Give the changed document a new version number, or put the old document back."
        )
    return kept


@cache
def current_name() -> str:
    """Key and version of the document by which new episodes are judged."""
    document = json.loads((FOLDER / f"{CURRENT_KEY}.json").read_bytes())
    return f"{document['key']}@{document['version']}"


def current(at: datetime) -> ProtocolVersion:
    """The version by which new episodes are judged; its document is compared with what is stored on its first use."""
    return store((FOLDER / f"{CURRENT_KEY}.json").read_text(encoding="utf-8"), at, name=f"{CURRENT_KEY}.json")


@cache
def loaded(version_id: int) -> Protocol:
    """The parsed document of a stored version."""
    return _parsed(ProtocolVersion.objects.values_list("document", flat=True).get(pk=version_id))


@cache
def kept(version_id: int) -> ProtocolVersion:
    """A stored version, with its text as it was first used."""
    return ProtocolVersion.objects.get(pk=version_id)


@cache
def _parsed(text: str) -> Protocol:
    """A document, read and compiled once in a process."""
    return load_protocol(text)
