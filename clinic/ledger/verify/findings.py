"""What a verification can find: a closed list. Each kind says in a sentence what it looks like and what to do; the
clinic's guide says more, under the kind's name."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import datetime
from enum import StrEnum

MOST_OF_A_KIND = 20  # shown; all are counted


class Kind(StrEnum):
    """The value is the name under which the clinic's guide speaks of it."""

    ROW_CHANGED = "a row was changed"
    ROW_GONE = "a row was taken away"
    ROW_SLIPPED_IN = "a row slipped in"
    ROW_HIDDEN = "a row hides from the sealer"
    STAMP_CHANGED = "a row's leaf or MAC was changed"
    LEAVES_CHANGED = "the leaves were changed"
    NODES_CHANGED = "stored nodes were changed"
    CHECKPOINT_CHANGED = "a checkpoint was changed"
    CLOSED_KEY = "a closed key has signed"
    HISTORY_REWRITTEN = "history was rewritten"
    ROLLED_BACK = "the database was rolled back"
    CONTENT_CHANGED = "a content was changed"
    CONTENT_GONE = "a content is gone without an erasure"
    SIGNATURE_BROKEN = "a signature does not hold"


LOOKS_LIKE = {
    Kind.ROW_CHANGED: (
        "A sealed row does not say what it said when it was sealed: somebody wrote to the table behind the "
        "programme's back. The backup before the last good checkpoint has what it said."
    ),
    Kind.ROW_GONE: "A sealed row is not there: somebody deleted it. A backup has it.",
    Kind.ROW_SLIPPED_IN: (
        "A row bears no MAC of this server's keys: it was put in, or changed before it was sealed, by "
        "somebody who had the database and not the keys. It is not sealed, and nothing that it says is to be "
        "believed."
    ),
    Kind.ROW_HIDDEN: (
        "A row of ours is neither sealed nor in sight of the sealer: the table of gaps was changed, or a row "
        "took another's number."
    ),
    Kind.STAMP_CHANGED: (
        "A row says what it said, but its leaf or MAC column was overwritten: harmless for what it says, and "
        "a sign that somebody wrote to the table."
    ),
    Kind.LEAVES_CHANGED: (
        "The table of leaves is not the tree that was signed: leaves were changed, taken away or added. Rows "
        "of before the last good checkpoint can still be proven from their columns."
    ),
    Kind.NODES_CHANGED: (
        "Hashes kept for proofs are not those of the tree: proofs made from them do not hold. They can be "
        "made again from the leaves."
    ),
    Kind.CHECKPOINT_CHANGED: (
        "A stored checkpoint is not what was signed. The file of checkpoints and the witnesses have it as it was."
    ),
    Kind.CLOSED_KEY: (
        "A checkpoint is signed by a key that had been closed: whoever holds that key tried to make history. "
        "Such a signature is worth nothing."
    ),
    Kind.HISTORY_REWRITTEN: (
        "A checkpoint that left this machine does not go together with the ledger as it is: rows were "
        "changed, and all was sealed anew. Only somebody with the seal key can do that: treat the keys as "
        "stolen."
    ),
    Kind.ROLLED_BACK: (
        "Somebody elsewhere knows a later state of the ledger than the database does: it was rolled back or "
        "restored from a backup, and what was written in between is missing."
    ),
    Kind.CONTENT_CHANGED: "What an entry says, or its salt, is not what was committed to when it was recorded.",
    Kind.CONTENT_GONE: "The content of an entry is missing, and no confirmed erasure accounts for it.",
    Kind.SIGNATURE_BROKEN: (
        "A sign-off's signature or evidence does not fit its entry: something was changed or copied."
    ),
}


@dataclass(frozen=True, slots=True)
class Finding:
    """One thing that does not hold. `where` names it for people; `position`: its leaf's place, where it has one."""

    kind: Kind
    where: str
    position: int | None = None


@dataclass(slots=True)
class Report:
    """What a verification saw. `size`: leaves; `rows`: rows looked at; `unsealed`: ours, and waiting for the sealer."""

    size: int = 0
    rows: int = 0
    unsealed: int = 0
    checkpoints: int = 0
    witnesses: int = 0
    findings: list[Finding] = field(default_factory=list)
    counts: dict[Kind, int] = field(default_factory=dict)
    good: list[str] = field(default_factory=list)
    unseen: list[str] = field(default_factory=list)
    first: int | None = None  # the first leaf that does not hold
    marks: list[tuple[int, datetime]] = field(default_factory=list)  # genuine checkpoints, by size

    def add(self, kind: Kind, where: str, position: int | None = None) -> None:
        """Something does not hold."""
        self.counts[kind] = self.counts.get(kind, 0) + 1
        if position is not None and (self.first is None or position < self.first):
            self.first = position
            self.findings.insert(0, Finding(kind, where, position))
        elif self.counts[kind] <= MOST_OF_A_KIND:
            self.findings.append(Finding(kind, where, position))

    @property
    def holds(self) -> bool:
        """Whether all that was looked at holds."""
        return not self.counts

    def kinds(self) -> set[Kind]:
        """Which kinds were found."""
        return set(self.counts)

    def still_holds(self) -> str:
        """What can be relied on in spite of what was found."""
        until = self.size if self.first is None else self.first
        good = [(size, at) for size, at in self.marks if size <= until]
        if not good:
            return "No checkpoint of the ledger holds whole."
        size, at = max(good)
        rows = "row" if size == 1 else "rows"
        return f"The first {size:,} {rows} hold, up to the checkpoint signed at {at:%Y-%m-%d %H:%M:%S} UTC."

    def sentences(self) -> Sequence[str]:
        """The findings, the first bad row first, one line each; what it looks like once a kind."""
        said: list[str] = []
        told: set[Kind] = set()
        for one in sorted(self.findings, key=_first):
            said.append(f"{one.kind.value.capitalize()}: {one.where}.")
            if one.kind not in told:
                said.append(f"  {LOOKS_LIKE[one.kind]}")
                told.add(one.kind)
        for kind, count in self.counts.items():
            shown = sum(one.kind is kind for one in self.findings)
            if count > shown:
                said.append(f"… and {count - shown:,} more of the kind: {kind.value}.")
        return said


def _first(finding: Finding) -> tuple[bool, int]:
    return finding.position is None, finding.position or 0
