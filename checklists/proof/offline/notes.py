"""Signed checkpoints (C2SP signed-note, tlog-checkpoint) and the ring of the keys that sign them."""

from __future__ import annotations

import base64
import json
import re
from typing import Any, NamedTuple

from cryptography.exceptions import InvalidSignature
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PublicKey

from checklists.proof.offline.tree import sha

FORMAT = 1
Said = dict[str, Any]
Key = dict[str, Any]


class Wrong(Exception):
    """Something is not as it should be; the text says what, in a sentence."""


class Head(NamedTuple):
    """A checkpoint that was opened."""

    size: int
    root: bytes
    at: str


def read_json(text: str) -> Any:
    """JSON, and nothing that only looks like it."""
    return json.loads(text, parse_constant=_refused)


def _refused(word: str) -> None:
    raise Wrong(f"{word} is not JSON")


def unbase64(text: str) -> bytes:
    """Base64, written in the one way in which it can be."""
    data = base64.b64decode(text, validate=True)
    if base64.b64encode(data).decode() != text:
        raise Wrong("base64 with loose bits")
    return data


IN_TEXT = re.compile(r"^\S+\n[0-9]+\n[A-Za-z0-9+/=]+\nat [0-9T:.-]+Z\n\n(?:— \S+ [A-Za-z0-9+/=]+\n)+", re.M)


def note_in(text: str) -> str:
    """The first checkpoint in a text that may hold more (an e-mail, say); the text itself where there is none."""
    text = text.replace("\r\n", "\n")
    found = IN_TEXT.search(text if text.endswith("\n") else text + "\n")
    return found[0] if found else text


def signed_by(note: str, origin: str, keys: list[bytes]) -> tuple[str, list[bytes]]:
    """The text of a note, and which of the keys signed it. A known key's signature that does not fit spoils it all."""
    body, gap, lines = note.rpartition("\n\n")
    if not gap or not lines.endswith("\n") or re.search(r"[\x00-\x09\x0b-\x1f]", note):
        raise Wrong("no signed note")
    body += "\n"
    known = {sha(f"{origin}\n".encode() + b"\x01" + key)[:4]: key for key in keys}
    found = []
    for line in lines[:-1].split("\n"):
        read = re.fullmatch(r"— ([^\s+]+) ([A-Za-z0-9+/]+={0,2})", line)
        value = unbase64(read[2]) if read else b""
        if read is None or len(value) < 5:
            raise Wrong("no signed note")
        key = known.get(value[:4]) if read[1] == origin else None
        if key is not None:
            try:
                Ed25519PublicKey.from_public_bytes(key).verify(value[4:], body.encode())
            except InvalidSignature:
                raise Wrong("a signature that does not fit") from None
            found.append(key)
    return body, found


def opened(note: str, ring: Said) -> Head:
    """The checkpoint in a note, signed by a key of the ring that is good for its size."""
    body, signers = signed_by(note, ring["origin"], [key["public"] for key in ring["keys"]])
    read = re.fullmatch(r"([^\s+]+)\n(0|[1-9][0-9]{0,18})\n([A-Za-z0-9+/=]+)\nat ([0-9T:.-]+Z)\n", body)
    if read is None or read[1] != ring["origin"] or len(unbase64(read[3])) != 32:
        raise Wrong("no checkpoint of this ledger")
    size = int(read[2])
    if not any(good_for(key, size) and key["public"] in signers for key in ring["keys"]):
        raise Wrong("no key that is good for this size has signed")
    return Head(size, unbase64(read[3]), read[4])


def good_for(key: Key, size: int) -> bool:
    """Whether a key's signature counts for a ledger of this size: not before it began, not after it was closed."""
    return bool(key["first"] <= size and (key["last"] is None or size <= key["last"]))


def read_ring(text: str) -> Said:
    """The public keys, each introduced by the one before it, each closing signed by a later one."""
    said = read_json(text)
    keys = [dict(key, public=unbase64(key["public"])) for key in said["keys"]]
    ring = {"origin": said["origin"], "keys": keys}
    if said["format"] != FORMAT or not keys or len({key["public"] for key in keys}) != len(keys):
        raise Wrong("no key ring")
    for place, key in enumerate(keys):
        sizes = [key["first"]] if key["last"] is None else [key["first"], key["last"]]
        if len(key["public"]) != 32 or sha(key["public"]).hex() != key["fingerprint"]:
            raise Wrong("a key that does not fit its fingerprint")
        if any(type(size) is not int for size in sizes):
            raise Wrong("a size that is no number")
        if place:
            statement = ("introduction", "key introduced", f"from size {key['first']}")
            link(ring, key, statement, keys[place - 1 : place], both=True)
        elif key["first"] or key["introduction"]:
            raise Wrong("a first key that does not begin at the beginning")
        if key["closing"] or key["last"] is not None:
            link(ring, key, ("closing", "key closed", f"at size {key['last']}"), keys[place + 1 :], both=False)
    return ring


def link(ring: Said, key: Key, statement: tuple[str, str, str], others: list[Key], *, both: bool) -> None:
    """One of the others has signed this statement about a key, and the key itself too where it must be both."""
    name, what, size = statement
    public = base64.b64encode(key["public"]).decode()
    for other in others:
        by = base64.b64encode(other["public"]).decode()
        wanted = f"{ring['origin']}\n{what}\nkey {public}\nby {by}\n{size}\nat "
        if key[name].startswith(wanted):
            signers = [other["public"], key["public"]] if both else [other["public"]]
            body, found = signed_by(key[name], ring["origin"], signers)
            if set(found) == set(signers) and re.fullmatch(r"[0-9T:.-]+Z\n", body[len(wanted) :]):
                return
    raise Wrong("a key whose link to the others does not hold")
