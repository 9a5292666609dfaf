"""The signature statement: one canonical text (RFC 8785) that says who signed what, as it stood, meaning what, when,
and how they had shown who they were. And whether a signature still holds: pure, without the database.

It cannot be cut out, copied or edited without being found (21 CFR 11.70). The text names the entry that it belongs to,
the evidence by its digest and the record by the digest of all that stood in it. The entry, which the ledger holds,
names the evidence; the row of the trail, which the ledger holds too, names the digest of this text. Change one and the
others do not fit.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

FORMAT = "signature 1"
MEANINGS = ("authorship", "review", "approval", "responsibility")
_ASKED = ("entry", "episode", "skill", "statement", "evidence", "record", "signer", "meaning", "at", "shown")


@dataclass(frozen=True, slots=True)
class Signed:
    """Everything that a signature hangs together with.

    `body`: the entry's content. `trail`: the detail of its row, with `actor` as a reference. `commitments`: of the
    episode's entries before this one, in the order of reception.
    """

    entry: str
    episode: str
    body: Mapping[str, Any]
    signature: str
    evidence: str
    trail: Mapping[str, Any] | None
    commitments: tuple[bytes, ...] | None = None


def digest_of(text: str) -> str:
    """SHA-256 of a text, hexadecimal."""
    return hashlib.sha256(text.encode()).hexdigest()


def record_digest(commitments: Iterable[bytes]) -> str:
    """What stood in the record: SHA-256 over the commitments of its entries in the order of reception, hexadecimal."""
    found = hashlib.sha256()
    for one in commitments:
        found.update(one)
    return found.hexdigest()


def check_signature(signed: Signed) -> list[str]:
    """What does not fit, one sentence each; nothing where the signature holds."""
    try:
        said = json.loads(signed.signature)
        evidence = json.loads(signed.evidence)
    except ValueError:
        return ["The signature or its evidence is no text of ours."]
    if not isinstance(said, dict) or said.get("format") != FORMAT or any(name not in said for name in _ASKED):
        return ["The signature is no text of ours."]
    pairs = [
        (said["entry"] == signed.entry == signed.body.get("id"), "The signature belongs to another entry."),
        (said["episode"] == signed.episode == evidence.get("episode"), "The signature belongs to another episode."),
        (said["skill"] == signed.body.get("skill") == evidence.get("skill"), "The signature is for another skill."),
        (said["signer"].get("reference") == signed.body.get("by"), "Somebody else signed than the entry says."),
        (said["at"] == signed.body.get("at"), "The signature bears another time than the entry."),
        (said["meaning"] in MEANINGS, "The signature has no meaning of the list."),
        (all(said["signer"].get(name) for name in ("name", "role")), "The signature bears no printed name."),
        (bool(said["shown"]), "The signature does not say how the signer showed who they were."),
        (said["evidence"] == digest_of(signed.evidence), "The evidence is not what was signed."),
        *_by_kind(said, signed),
        *_of_record(said["record"], signed.commitments),
        *_of_trail(said, signed),
    ]
    return [sentence for fits, sentence in pairs if not fits]


def _by_kind(said: Mapping[str, Any], signed: Signed) -> list[tuple[bool, str]]:
    """What only a sign-off carries in its entry, and what only a withdrawal does."""
    body = signed.body
    if body.get("kind") == "sign_off_withdrawn":
        return [(json.loads(signed.evidence).get("reason") == body.get("reason"), "The reason is not what was signed.")]
    override, second = body.get("override") or {}, said.get("countersigner") or {}
    return [
        (body.get("kind") == "sign_off", "The entry is no sign-off."),
        (body.get("evidence") == said["evidence"], "The entry names other evidence."),
        (body.get("statement") == said["statement"], "The statement is not what was signed."),
        (override.get("by") == second.get("reference"), "The countersignature is not the entry's."),
        (override.get("reason") == second.get("reason"), "The reason of the countersignature is not the entry's."),
    ]


def _of_record(said: Mapping[str, Any], commitments: tuple[bytes, ...] | None) -> list[tuple[bool, str]]:
    if commitments is None:
        return []
    same = said.get("entries") == len(commitments) and said.get("digest") == record_digest(commitments)
    return [(same, "The record before the signature is not what it was when it was signed.")]


def _of_trail(said: Mapping[str, Any], signed: Signed) -> list[tuple[bool, str]]:
    """The row of the trail binds the text: its digest stands there, and the ledger holds the row."""
    row = signed.trail
    if row is None:
        return [(False, "The trail has no row for this signature.")]
    return [
        (row.get("entry") == signed.entry, "The row of the trail is another entry's."),
        (row.get("signature") == digest_of(signed.signature), "The signature is not the one that the trail names."),
        (row.get("actor") == said["signer"].get("reference"), "The trail names somebody else as the signer."),
    ]
