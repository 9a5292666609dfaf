"""What stands on the screen when a skill is signed off: the evidence as canonical JSON with its digest, and the
statement."""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from dataclasses import asdict, dataclass
from datetime import datetime
from typing import Any

import rfc8785

from checklists.domain import Entry, Episode
from checklists.pictures.words import english_rung

SEEN = frozenset({"attempt", "check"})
_ATTEMPT = ("id", "at", "by", "role", "support", "help", "result", "deviations", "measures")


@dataclass(frozen=True, slots=True)
class Evidence:
    """`shown` is what a page renders; `text` its canonical form (RFC 8785); `digest` the SHA-256 of that."""

    shown: dict[str, Any]
    text: str
    digest: str


def standing(record: Sequence[Entry]) -> list[Entry]:
    """The entries of a record that are not struck out, in order."""
    struck = {entry.get("entry") for entry in record if entry.kind == "struck_out"}
    return sorted(entry for entry in record if entry.id not in struck and entry.kind != "struck_out")


def seen_by(record: Sequence[Entry], reference: str) -> bool:
    """Whether a member of staff has an attempt or a check of their own in this episode."""
    return any(entry.kind in SEEN and entry.by == reference for entry in standing(record))


def evidence_of(episode: Episode, record: Sequence[Entry], skill: str, *, at: datetime) -> Evidence:
    """The evidence for a skill as it stands: the attempts, what the criterion asks, and what it builds on.

    `at` is given in the site's zone; of it only the day is shown, so that what is signed a minute later is what was
    shown.
    """
    protocol = episode.protocol
    statuses = episode.statuses(at)
    known = protocol.skills[skill]
    criterion = known.criterion(episode.both)
    shown: dict[str, Any] = {
        "episode": episode.reference,
        "skill": skill,
        "title": known.title,
        "protocol": protocol.reference,
        "protocol_digest": protocol.digest,
        "day": at.date().isoformat(),
        "status": statuses[skill].status,
        "reasons": list(statuses[skill].reasons),
        "criterion": {
            "stages": [asdict(stage) for stage in criterion.stages],
            "barred": sorted(criterion.barred),
            "measures": {name: list(span) for name, span in criterion.measures.items()},
        },
        "prerequisites": {one: statuses[one].status for one in known.after},
        "attempts": [
            {name: entry.get(name) for name in _ATTEMPT if entry.get(name) is not None}
            for entry in standing(record)
            if entry.kind == "attempt" and entry.get("skill") == skill
        ],
        "entries": len(record),
    }
    text = rfc8785.dumps(shown)
    return Evidence(shown, text.decode(), hashlib.sha256(text).hexdigest())


def statement(episode: Episode, skill: str, *, name: str, role: str) -> str:
    """What the signer signs."""
    known = episode.protocol.skills[skill]
    reach = known.criterion(episode.both).stages[-1].support
    return (
        f"I, {name} ({role.replace('_', ' ')}), have looked at the evidence shown and sign episode {episode.reference} "
        f"off for '{known.title}', as far as '{english_rung(reach)}' and no further, under protocol "
        f"{episode.protocol.reference}. I have seen this person myself. Its thresholds are this clinic's defaults; "
        "local policy and my own professional judgement come first."
    )


def evidence_of_withdrawal(episode: str, skill: str, *, withdraws: str, reason: str) -> str:
    """What is signed where a signature is taken back: which one, and why. Canonical JSON."""
    return rfc8785.dumps({"episode": episode, "skill": skill, "withdraws": withdraws, "reason": reason}).decode()


def statement_of_withdrawal(episode: Episode, skill: str, *, name: str, role: str) -> str:
    """What the signer signs where a signature is taken back."""
    return (
        f"I, {name} ({role.replace('_', ' ')}), have looked again and take back the sign-off of episode "
        f"{episode.reference} for '{episode.protocol.skills[skill].title}', for the reason given. It stays in the "
        "record, withdrawn."
    )
