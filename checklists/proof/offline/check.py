"""What a bundle is checked for, in order, and the sentences that say what was found."""

from __future__ import annotations

import re

from checklists.proof.offline.notes import Head, Said, Wrong, note_in, opened, read_json, read_ring
from checklists.proof.offline.page import page
from checklists.proof.offline.rows import Rows
from checklists.proof.offline.signatures import Signatures
from checklists.proof.offline.tree import continued, unhex

HOLDS, FAILS, OPEN, NOTE = "holds", "fails", "open", "note"
BUNDLE_FORMAT = 1
NEEDED = ("bundle.json", "ring.json", "page.html", "README.txt", "verify.py")
BELONGS = re.compile(r"(?:checkpoint|stamped)\.note|stamp\.tsr|protocols/[a-z0-9_]{1,40}@[0-9]{1,9}\.json")
Files = dict[str, bytes]
Line = tuple[str, str]
UNREADABLE = (ValueError, KeyError, TypeError, AttributeError, IndexError, RecursionError)


def checked(files: Files, key: str = "", outside: str = "") -> list[Line]:
    """All checks on the files of a bundle; the first part that does not hold ends them.

    `key`: a fingerprint, `outside`: a text with a checkpoint in it, both got from somewhere else.
    """
    lines: list[Line] = []
    try:
        bundle = _named(files)
        ring = _keys(files, key, lines)
        head = _newest(files, bundle, ring, lines)
        heads = _earlier(bundle, ring, head, lines)
        if outside:
            _from_outside(bundle, ring, head, outside, lines)
        rows = Rows(bundle, heads, lines)
        rows.check()
        rows.check_trail()
        Signatures(bundle, files, rows, lines).check()
        if files["page.html"].decode() != page(bundle):
            raise Wrong("page.html does not say what the entries say: do not rely on it.")
        lines.append((HOLDS, "page.html says what the entries say."))
    except Wrong as wrong:
        lines.append((FAILS, str(wrong)))
    except UNREADABLE:
        lines.append((FAILS, "The bundle is not written as a bundle is written."))
    return lines


def verdict(lines: list[Line]) -> tuple[bool, str]:
    """Whether everything holds, and the last sentence."""
    found = {status for status, _ in lines}
    if FAILS in found or not lines:
        return False, "THIS BUNDLE DOES NOT HOLD."
    if OPEN in found:
        return False, "NOT PROVED YET: nothing speaks against it, but something is still missing."
    return True, "THIS BUNDLE HOLDS."


def _named(files: Files) -> Said:
    """The right files are there, and no others; what bundle.json says."""
    for name in NEEDED:
        if name not in files:
            raise Wrong(f"{name} is missing.")
    for name in sorted(files):
        if name not in NEEDED and not BELONGS.fullmatch(name):
            raise Wrong(f"There is a file that does not belong to the bundle: {name}.")
    bundle: Said = read_json(files["bundle.json"].decode())
    if bundle["format"] != BUNDLE_FORMAT:
        raise Wrong("The bundle is of another format than this program reads.")
    return bundle


def _keys(files: Files, key: str, lines: list[Line]) -> Said:
    try:
        ring = read_ring(files["ring.json"].decode())
    except (Wrong, *UNREADABLE):
        raise Wrong("ring.json is no key ring whose links hold.") from None
    prints = [one["fingerprint"] for one in ring["keys"]]
    lines.append((HOLDS, f"The signing keys of {ring['origin']} are linked as they must be (keys: {len(prints)})."))
    if not key:
        lines.append((NOTE, f"So far only the bundle itself vouches for its keys. The newest: {prints[-1]}."))
    elif re.sub(r"[^0-9a-f]", "", key.lower()) in prints:
        lines.append((HOLDS, "The key whose fingerprint you gave is one of them."))
    else:
        raise Wrong("The key whose fingerprint you gave is none of them.")
    return ring


def _newest(files: Files, bundle: Said, ring: Said, lines: list[Line]) -> Head | None:
    note = bundle["checkpoint"]
    if files.get("checkpoint.note", b"").decode() != note:
        raise Wrong("checkpoint.note is not the checkpoint of the bundle.")
    if not note:
        lines.append((OPEN, "Nothing of this is sealed yet: there is no checkpoint."))
        return None
    head = _opened(note, ring, "The checkpoint")
    lines.append((HOLDS, f"The checkpoint of {head.size} rows, sealed at {head.at}, is signed."))
    if "stamp.tsr" in files:
        if files.get("stamped.note", b"").decode() not in [note, *(one["note"] for one in bundle["history"])]:
            raise Wrong("stamped.note is no checkpoint of the bundle.")
        lines.append((NOTE, "A time stamp is enclosed. README.txt says how to have it checked."))
    return head


def _earlier(bundle: Said, ring: Said, head: Head | None, lines: list[Line]) -> list[Head]:
    """All checkpoints that hold, the newest first; those without a note serve only `_from_outside`."""
    heads = [head] if head is not None else []
    for one in bundle["history"]:
        if not one["note"]:
            continue
        old = _opened(one["note"], ring, "An earlier checkpoint")
        shown = head is not None and continued(old.size, head.size, unhex(one["path"]), old.root, head.root)
        if not shown or one["size"] != old.size:
            raise Wrong(f"It is not shown that the ledger of {old.size} rows is the beginning of the later one.")
        lines.append((HOLDS, f"The ledger of {old.size} rows, sealed at {old.at}, is the beginning of the later one."))
        heads.append(old)
    return heads


def _from_outside(bundle: Said, ring: Said, head: Head | None, outside: str, lines: list[Line]) -> None:
    kept = _opened(note_in(outside), ring, "The checkpoint from outside")
    paths = [one["path"] for one in bundle["history"] if one["size"] == kept.size]
    if head is not None and kept.size == head.size:
        if kept.root != head.root:
            raise Wrong("The checkpoint from outside contradicts the bundle: two ledgers of one size were signed.")
        lines.append((HOLDS, "The checkpoint from outside is that of the bundle."))
    elif head is None or kept.size > head.size or not paths:
        lines.append(
            (OPEN, "The bundle cannot be compared with the checkpoint from outside: ask for one made with it.")
        )
    elif continued(kept.size, head.size, unhex(paths[0]), kept.root, head.root):
        lines.append((HOLDS, "The checkpoint from outside is the beginning of the ledger in the bundle."))
    else:
        raise Wrong("The checkpoint from outside contradicts the bundle: its ledger is not the beginning of this one.")


def _opened(note: str, ring: Said, name: str) -> Head:
    try:
        return opened(note, ring)
    except (Wrong, *UNREADABLE):
        raise Wrong(f"{name} is not signed by a key that is good for its size.") from None
