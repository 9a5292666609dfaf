"""What a witness keeps, and how it compares: a folder of files, nothing else.

ring.json                      the key ring, which only goes on and never back
latest.note                    the largest checkpoint that was shown to continue all before it
checkpoints/<size>.note        every checkpoint kept, by size
refused/<count>-<why>.note     what a known key signed and what does not go together with what is kept: evidence
"""

from __future__ import annotations

import os
import threading
from dataclasses import dataclass, field
from pathlib import Path

from clinic.ledger.merkle import verify_consistency
from clinic.ledger.note import Checkpoint, ClosedKey, NotGenuine, opened
from clinic.ledger.ring import Ring
from clinic.ledger.witness import Proof

MOST_REFUSED = 1_000


@dataclass(frozen=True, slots=True)
class Answer:
    """What is said: a status of HTTP, and a sentence (with the witness's size in a last line where that matters)."""

    status: int
    text: str


@dataclass(slots=True)
class Keep:
    """The folder of a witness."""

    folder: Path
    ring: Ring
    latest: Checkpoint | None = None
    lock: threading.Lock = field(default_factory=threading.Lock)

    @classmethod
    def at(cls, folder: Path, ring: Ring) -> Keep:
        """The witness of this folder. The ring given and the ring kept: whichever goes on from the other counts;
        where neither does, NotGenuine."""
        for name in ("checkpoints", "refused"):
            (folder / name).mkdir(parents=True, exist_ok=True)
        keep = cls(folder, ring)
        kept = folder / "ring.json"
        if kept.exists():
            before = Ring.load(kept.read_text())
            if before.goes_on_from(ring):
                keep.ring = before
            elif not ring.goes_on_from(before):
                raise NotGenuine(f"The key ring given does not go on from the one in {folder}. Nothing was changed.")
        _write(kept, keep.ring.dump())
        if (folder / "latest.note").exists():
            keep.latest = opened((folder / "latest.note").read_text(), keep.ring)
        return keep

    def note(self) -> str:
        """The latest note; empty where there is none."""
        return (self.folder / "latest.note").read_text() if self.latest is not None else ""

    def take(self, note: str, proof: Proof) -> Answer:
        """Keep a checkpoint that a known key signed and that goes together with the latest; else say why not."""
        with self.lock:
            try:
                sent = opened(note, self.ring)
            except ClosedKey as error:
                self._refuse("closed-key", note)
                return Answer(403, str(error))
            except NotGenuine as error:
                return Answer(403, str(error))
            return self._compare(note, sent, proof)

    def take_ring(self, text: str) -> Answer:
        """Keep a ring that goes on from the one kept."""
        with self.lock:
            try:
                ring = Ring.load(text)
            except NotGenuine as error:
                return Answer(400, str(error))
            if not ring.goes_on_from(self.ring):
                return Answer(422, "The key ring does not go on from the one that this witness has.")
            _write(self.folder / "ring.json", ring.dump())
            self.ring = ring
            return Answer(200, "kept")

    def _compare(self, note: str, sent: Checkpoint, proof: Proof) -> Answer:
        have = self.latest
        if have is None or have.size == 0 or sent.size == have.size:
            if have is not None and sent.size == have.size and sent.root != have.root:
                self._refuse("other-root", note)
                return Answer(422, f"Two roots were signed for the size {sent.size}: this witness has another one.")
            return self._keep(note, sent)
        if proof.old != have.size:
            return Answer(409, f"This witness stands at size {have.size}; the proof begins elsewhere.\n{have.size}")
        small, large = sorted((have, sent), key=lambda one: one.size)
        if not verify_consistency(small.size, large.size, proof.path, small.root, large.root):
            if not self._has(sent):
                self._refuse("no-continuation", note)
            return Answer(
                422,
                f"It was not shown that size {small.size} is the beginning of size {large.size}; "
                f"this witness has {have.size}.",
            )
        return self._keep(note, sent)

    def _keep(self, note: str, sent: Checkpoint) -> Answer:
        _write(self.folder / "checkpoints" / f"{sent.size:020d}.note", note)
        if self.latest is None or sent.size >= self.latest.size:
            _write(self.folder / "latest.note", note)
            self.latest = sent
        return Answer(200, "kept")

    def _has(self, sent: Checkpoint) -> bool:
        """Whether this root of this size is kept already: sent again with a proof that is none, by whoever asked for it
        before, it speaks against nobody, and takes no room from what does."""
        try:
            kept = (self.folder / "checkpoints" / f"{sent.size:020d}.note").read_text()
            return opened(kept, self.ring).root == sent.root
        except (OSError, NotGenuine):
            return False

    def _refuse(self, why: str, note: str) -> None:
        """Keep what speaks against the ledger. The same note is kept once; past the limit the first ones stay."""
        folder = self.folder / "refused"
        before = sorted(folder.iterdir())
        if len(before) < MOST_REFUSED and not any(path.read_text() == note for path in before):
            _write(folder / f"{len(before) + 1:04d}-{why}.note", note)


def _write(path: Path, text: str) -> None:
    """Whole or not at all, also when the power fails."""
    partial = path.with_suffix(".new")
    with partial.open("w", encoding="utf-8", newline="") as file:
        file.write(text)
        file.flush()
        os.fsync(file.fileno())
    partial.replace(path)
