"""Checkpoints that are known outside the database: this machine's own file, files that somebody kept, witnesses."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from clinic.ledger import memory, note, witness
from clinic.ledger.note import ClosedKey, NotGenuine
from clinic.ledger.ring import Ring
from clinic.ledger.verify.findings import Kind, Report
from clinic.ledger.verify.tree import Mark


def marks(ring: Ring, witnesses: Sequence[str], report: Report) -> list[Mark]:
    """Everything that is known elsewhere and genuinely signed. Who cannot be asked is said, and is no finding."""
    found = _file(ring, memory.path(), "the file of checkpoints", report) if memory.path().exists() else []
    if not found:
        report.unseen.append("The file of checkpoints: there is none yet.")
    for place in witnesses:
        if place.startswith(("http://", "https://")):
            found += _asked(ring, place, report)
        else:
            found += _file(ring, Path(place), place, report)
    return found


def _asked(ring: Ring, address: str, report: Report) -> list[Mark]:
    try:
        text = witness.latest(address)
    except witness.WitnessError as fault:
        report.unseen.append(f"Witness {address}: {fault}")
        return []
    if not text:
        report.unseen.append(f"Witness {address}: it has no checkpoint yet.")
        return []
    report.witnesses += 1
    return _opened(ring, [text], f"witness {address}", report)


def _file(ring: Ring, path: Path, whose: str, report: Report) -> list[Mark]:
    """A file with notes one after the other, as memory.py writes them; a single note is such a file, too."""
    try:
        text = path.read_text(encoding="utf-8", errors="replace")
    except OSError as fault:
        report.unseen.append(f"{whose}: it cannot be read ({fault.strerror}).")
        return []
    report.witnesses += 1
    notes = [f"{piece.strip()}\n" for piece in text.split(memory.END) if piece.strip()]
    return _opened(ring, notes, whose, report)


def _opened(ring: Ring, notes: Sequence[str], whose: str, report: Report) -> list[Mark]:
    found = []
    for text in notes:
        try:
            said = note.opened(text, ring)
        except ClosedKey as fault:
            report.add(Kind.CLOSED_KEY, f"a note of {whose} ({fault})")
        except NotGenuine as fault:
            report.unseen.append(f"A note of {whose} is not genuine, and says nothing: {fault}")
        else:
            found.append(Mark(said.size, said.root, whose))
    return found
