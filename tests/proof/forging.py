"""What somebody could do to a bundle, each with the words in which it must be found."""

from __future__ import annotations

import base64
import hashlib
import json
from collections.abc import Callable
from typing import Any

from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

from checklists.proof.offline.page import page
from clinic.ledger.merkle import inclusion_path, leaf_hash, nodes_of, root
from clinic.ledger.note import Checkpoint, Signer, signed
from clinic.ledger.ring import Ring, new_ring
from tests.makers import now
from tests.proof.bundles import Files, Said, changed, said

Change = Callable[[Said], object]


def entry_of(bundle: Said, kind: str, place: int = 0) -> Said:
    found = [one for one in bundle["entries"] if json.loads(one["row"])["kind"] == kind]
    entry: Said = found[place]
    return entry


def in_content(of: str, /, **fields: Any) -> Change:
    """Say something else in a content."""

    def change(bundle: Said) -> None:
        entry = entry_of(bundle, of)
        entry["content"] = json.dumps({**json.loads(entry["content"]), **fields}, separators=(",", ":"), sort_keys=True)

    return change


def in_row(of: str, /, **fields: Any) -> Change:
    """Say something else in a row."""

    def change(bundle: Said) -> None:
        entry = entry_of(bundle, of)
        entry["row"] = json.dumps({**json.loads(entry["row"]), **fields}, separators=(",", ":"), sort_keys=True)

    return change


def committed_anew(of: str, /, **fields: Any) -> Change:
    """Say something else, and make the row's commitment fit."""

    def change(bundle: Said) -> None:
        in_content(of, **fields)(bundle)
        entry = entry_of(bundle, of)
        commitment = hashlib.sha256(bytes.fromhex(entry["salt"]) + entry["content"].encode()).hexdigest()
        in_row(of, commitment=commitment)(bundle)

    return change


def swapped(*names: str) -> Change:
    """Exchange something between the first two attempts."""

    def change(bundle: Said) -> None:
        one, other = entry_of(bundle, "attempt", 0), entry_of(bundle, "attempt", 1)
        for name in names:
            one[name], other[name] = other[name], one[name]

    return change


def put_in(bundle: Said) -> None:
    """A made-up entry, at the place of a real one."""
    real = entry_of(bundle, "attempt")
    id_ = "00000000-0000-4000-8000-000000000001"
    content = json.dumps({**json.loads(real["content"]), "id": id_}, separators=(",", ":"), sort_keys=True)
    commitment = hashlib.sha256(bytes.fromhex(real["salt"]) + content.encode()).hexdigest()
    row = {**json.loads(real["row"]), "id": id_, "number": 9_999, "commitment": commitment}
    bundle["entries"].append(
        {**real, "content": content, "row": json.dumps(row, separators=(",", ":"), sort_keys=True)}
    )


def left_out(bundle: Said) -> None:
    """An entry from before the signature is not enclosed."""
    bundle["entries"].remove(entry_of(bundle, "attempt"))


def copied_signature(bundle: Said) -> None:
    entry_of(bundle, "attempt")["signed"] = entry_of(bundle, "sign_off")["signed"]


def in_signed(name: str, change: Callable[[Said], object]) -> Change:
    """Change a text of the signature."""

    def do(bundle: Said) -> None:
        signature = entry_of(bundle, "sign_off")["signed"]
        text = json.loads(signature[name])
        change(text)
        signature[name] = json.dumps(text, separators=(",", ":"), sort_keys=True, ensure_ascii=False)

    return do


def said_erased(bundle: Said) -> None:
    entry_of(bundle, "sign_off").update(content=None, salt=None, erased="2026-11-25, Act 1: asked for", signed=None)


def without(*path: Any) -> Change:
    """A member of bundle.json is gone."""

    def change(bundle: Said) -> None:
        inner: Any = bundle
        for name in path[:-1]:
            inner = inner[name]
        del inner[path[-1]]

    return change


def put(value: Any, *path: Any) -> Change:
    """A member of bundle.json is another."""

    def change(bundle: Said) -> None:
        inner: Any = bundle
        for name in path[:-1]:
            inner = inner[name]
        inner[path[-1]] = value

    return change


def flipped(text: str, place: int = 0) -> str:
    return text[:place] + ("0" if text[place] != "0" else "1") + text[place + 1 :]


def bent_path(bundle: Said) -> None:
    path = bundle["entries"][0]["sealed"]["path"]
    path[1] = flipped(path[1])


def bent_history(bundle: Said) -> None:
    path = bundle["history"][0]["path"]
    path[-1] = flipped(path[-1])


def other_size(files: Files) -> Files:
    """The checkpoint states one row more."""
    lines = said(files)["checkpoint"].split("\n")
    lines[1] = str(int(lines[1]) + 1)
    note = "\n".join(lines)
    return {**changed(files, put(note, "checkpoint")), "checkpoint.note": note.encode()}


def an_attacker(number: int, origin: str) -> Signer:
    return Signer(origin, Ed25519PrivateKey.from_private_bytes(bytes([number]) * 32))


def sealed_anew(files: Files, change: Change, signer: Signer, ring: Ring | None = None) -> Files:
    """A whole ledger made up around changed rows: every path, commitment and checkpoint fits, signed by this key."""
    bundle = said(files)
    change(bundle)
    rows = [*bundle["entries"], *bundle["trail"]]
    leaves = [leaf_hash(one["row"].encode()) for one in rows]
    nodes = nodes_of(leaves)
    for position, one in enumerate(rows):
        path = [node.hex() for node in inclusion_path(position, len(leaves), nodes)]
        one["sealed"] = {"position": position, "path": path}
    note = signed(Checkpoint(signer.name, len(leaves), root(leaves), now()), [signer])
    bundle["checkpoint"], bundle["history"] = note, []
    return {
        **files,
        "bundle.json": json.dumps(bundle, ensure_ascii=False).encode(),
        "page.html": page(bundle).encode(),
        "checkpoint.note": note.encode(),
        "ring.json": (ring or new_ring(signer)).dump().encode(),
    }


def _page(files: Files) -> Files:
    return {**files, "page.html": files["page.html"].replace(b"<dd>safe</dd>", b"<dd>unsafe</dd>", 1)}


def _protocol(files: Files) -> Files:
    (name,) = (name for name in files if name.startswith("protocols/"))
    return {**files, name: files[name].replace(b'"critical"', b'"minor"', 1)}


def _ring(files: Files) -> Files:
    ring = json.loads(files["ring.json"])
    ring["keys"][0]["public"] = base64.b64encode(b"x" * 32).decode()
    return {**files, "ring.json": json.dumps(ring).encode()}


def _dropped(name: str) -> Callable[[Files], Files]:
    return lambda files: {other: content for other, content in files.items() if other != name}


def _of_bundle(change: Change) -> Callable[[Files], Files]:
    return lambda files: changed(files, change)


NOT_WRITTEN = "The bundle is not written as a bundle is written."
TAMPERED: dict[str, tuple[str, Callable[[Files], Files], str]] = {
    "a value": ("sign_off", _of_bundle(in_content("attempt", result="unsafe")), "not the one that was written"),
    "a value, committed anew": ("episode", _of_bundle(committed_anew("attempt", result="unsafe")), "does not stand"),
    "a time": ("episode", _of_bundle(in_row("attempt", at="2026-01-01T00:00:00.000000Z")), "does not stand"),
    "an author": (
        "episode",
        _of_bundle(in_row("sign_off", by_id="0" * 8 + "-0000-4000-8000-" + "0" * 12)),
        "not stand",
    ),
    "a kind": ("sign_off", _of_bundle(in_row("sign_off", kind="attempt")), "another entry"),
    "a salt": ("episode", _of_bundle(put("00" * 16, "entries", 1, "salt")), "not the one that was written"),
    "contents swapped": ("episode", _of_bundle(swapped("content", "salt")), "not the one that was written"),
    "places swapped": ("episode", _of_bundle(swapped("sealed")), "does not stand"),
    "an entry put in": ("episode", _of_bundle(put_in), "does not stand"),
    "an entry left out": ("episode", _of_bundle(left_out), "the record before it"),
    "an entry twice": ("episode", _of_bundle(lambda b: b["entries"].append(b["entries"][0])), "does not belong here"),
    "of another episode": ("episode", _of_bundle(put("E26-9999", "about", "episode_reference")), "another entry"),
    "no entry at all": ("episode", _of_bundle(put([], "entries")), "is not in it"),
    "another sign-off": ("sign_off", _of_bundle(put("0" * 36, "about", "reference")), "is not in it"),
    "another entry meant": (
        "sign_off",
        _of_bundle(lambda b: b["about"].update(reference=json.loads(b["entries"][0]["row"])["id"])),
        "is not in it",
    ),
    "another kind of bundle": ("sign_off", _of_bundle(put("episode", "about", "kind")), "is not in it"),
    "an earlier size": (
        "sign_off",
        _of_bundle(lambda b: b["history"][0].update(size=b["history"][0]["size"] + 1)),
        "It is not shown",
    ),
    "a signature copied": ("sign_off", _of_bundle(copied_signature), "which bears none"),
    "a signature dropped": (
        "sign_off",
        _of_bundle(lambda b: entry_of(b, "sign_off").update(signed=None)),
        "comes without",
    ),
    "another name signed": (
        "sign_off",
        _of_bundle(in_signed("signature", lambda text: text["signer"].update(name="Somebody Else"))),
        "sealed audit trail names",
    ),
    "another meaning": (
        "sign_off",
        _of_bundle(in_signed("signature", lambda text: text.update(meaning="review"))),
        "sealed audit trail names",
    ),
    "another statement": (
        "sign_off",
        _of_bundle(in_signed("signature", lambda text: text.update(statement="I sign."))),
        "not what was signed",
    ),
    "other evidence": (
        "sign_off",
        _of_bundle(in_signed("evidence", lambda text: text["attempts"].pop())),
        "not what was signed",
    ),
    "the record before": (
        "sign_off",
        _of_bundle(lambda b: entry_of(b, "sign_off")["signed"]["before"].pop()),
        "the record before it",
    ),
    "a row of the trail": (
        "sign_off",
        _of_bundle(lambda b: b["trail"][0].update(row=b["trail"][0]["row"] + " ")),
        "not stand",
    ),
    "no trail": ("sign_off", _of_bundle(put([], "trail")), "sealed audit trail names"),
    "said to be erased": ("sign_off", _of_bundle(said_erased), "no sealed row"),
    "content gone": ("episode", _of_bundle(put(None, "entries", 1, "content")), "nothing says why"),
    "a path": ("sign_off", _of_bundle(bent_path), "does not stand"),
    "an earlier ledger": ("sign_off", _of_bundle(bent_history), "It is not shown"),
    "the page": ("episode", _page, "page.html does not say"),
    "the protocol": ("sign_off", _protocol, "protocol enclosed is not"),
    "no protocol": ("sign_off", _dropped("protocols/above_knee@1.json"), "protocol enclosed is not"),
    "the checkpoint's size": ("episode", other_size, "The checkpoint is not signed"),
    "no checkpoint file": ("episode", _dropped("checkpoint.note"), "checkpoint.note is not"),
    "a key": ("episode", _ring, "ring.json is no key ring"),
    "no ring": ("episode", _dropped("ring.json"), "ring.json is missing"),
    "no verify.py": ("episode", _dropped("verify.py"), "verify.py is missing"),
    "a file more": ("episode", lambda files: {**files, "extra.html": b"<script>"}, "does not belong to the bundle"),
    "no JSON": ("episode", lambda files: {**files, "bundle.json": b"{"}, NOT_WRITTEN),
    "not text": ("episode", lambda files: {**files, "bundle.json": b"\xff"}, NOT_WRITTEN),
    "another format": ("episode", _of_bundle(put(2, "format")), "another format"),
    "a member gone": ("episode", _of_bundle(without("history")), NOT_WRITTEN),
    "a member of another kind": ("episode", _of_bundle(put("x", "entries", 0, "sealed", "path")), NOT_WRITTEN),
}
