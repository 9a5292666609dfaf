"""Signed checkpoints in the open formats C2SP signed-note and C2SP tlog-checkpoint.

    alder-reach.example/ledger          the origin: which ledger this is
    20852163                            how many leaves
    CsUYapGGPo4dkMgIAUqom/Xajj7h2f…=    the root, base64
    at 2026-11-25T20:56:06.000000Z      extension line: when it was sealed, by the server's clock
                                        (an empty line)
    — alder-reach.example/ledger Az3g…  one line a signature: key id and Ed25519 signature, base64

Which keys count, and for which sizes, is the ring's business (`ring.py`). The text says nothing to anybody until
`opened` has given it back.
"""

from __future__ import annotations

import base64
import binascii
import hashlib
import re
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import TYPE_CHECKING

from cryptography.exceptions import InvalidSignature
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey, Ed25519PublicKey

from clinic.ledger.merkle import HASH_BYTES

if TYPE_CHECKING:
    from clinic.ledger.ring import Ring

ED25519 = b"\x01"  # the signature type of signed-note
MOST_SIGNATURES = 32  # signed-note asks for at least 16
MOST_CHARACTERS = 100_000
_NAME = re.compile(r"[^\s+]+")
_SIZE = re.compile(r"0|[1-9][0-9]{0,18}")
_AT = re.compile(r"at (\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d\.\d{6})Z")
_SIGNATURE = re.compile(r"— ([^\s+]+) ([A-Za-z0-9+/]+={0,2})")


class NotGenuine(Exception):
    """A note that is not what it claims to be; the message says why, in a sentence."""


class ClosedKey(NotGenuine):
    """Signed by a key of the ring, but for a size for which it is not good: what a stolen old key would sign."""


@dataclass(frozen=True, slots=True)
class Checkpoint:
    """The whole ledger at one size: `root` is the Merkle root over its first `size` leaves."""

    origin: str
    size: int
    root: bytes
    at: datetime

    def text(self) -> str:
        """What is signed, with its last line feed."""
        moment = self.at.astimezone(UTC).replace(tzinfo=None).isoformat(timespec="microseconds")
        return f"{self.origin}\n{self.size}\n{base64.b64encode(self.root).decode()}\nat {moment}Z\n"


@dataclass(frozen=True, slots=True)
class Signer:
    """A private key, and the name under which it signs: the ledger's origin."""

    name: str
    private: Ed25519PrivateKey

    @property
    def public(self) -> bytes:
        """The public key, 32 bytes."""
        return self.private.public_key().public_bytes_raw()


@dataclass(frozen=True, slots=True)
class Signature:
    """One signature line: nothing is known of it until a key has verified it."""

    name: str
    key_id: bytes
    value: bytes


def key_id(name: str, public: bytes) -> bytes:
    """The short name of a key: the first four bytes of SHA-256(name ‖ 0x0A ‖ type ‖ public key)."""
    return hashlib.sha256(name.encode() + b"\n" + ED25519 + public).digest()[:4]


def fingerprint(public: bytes) -> str:
    """The long name of a key, to be compared by people: SHA-256 of the public key, hexadecimal."""
    return hashlib.sha256(public).hexdigest()


def sign_text(text: str, signers: Sequence[Signer]) -> str:
    """A signed note: the text (it ends with a line feed), an empty line, one line a signer, in the order given."""
    if not text.endswith("\n") or "\n\n" in text or _forbidden(text):
        raise ValueError("The text of a note ends with a line feed and holds no empty line and no control character.")
    if not signers:
        raise ValueError("A note needs at least one signature.")
    lines = []
    for signer in signers:
        if not _NAME.fullmatch(signer.name):
            raise ValueError(f"'{signer.name}' cannot name a key: no spaces and no '+'.")
        value = key_id(signer.name, signer.public) + signer.private.sign(text.encode())
        lines.append(f"— {signer.name} {base64.b64encode(value).decode()}\n")
    return text + "\n" + "".join(lines)


def signed(checkpoint: Checkpoint, signers: Sequence[Signer]) -> str:
    """The checkpoint as a signed note; during the overlap of a rotation with several signatures."""
    if not _NAME.fullmatch(checkpoint.origin) or len(checkpoint.root) != HASH_BYTES or checkpoint.size < 0:
        raise ValueError(f"This is no checkpoint that could be signed: {checkpoint}")
    return sign_text(checkpoint.text(), signers)


def opened(text: str, ring: Ring) -> Checkpoint:
    """The checkpoint in a note that a key of the ring has signed while that key was good for this size.

    NotGenuine otherwise: another origin; a signature of a known key that does not fit, whatever else is signed; no
    signature of a known key; or (ClosedKey) only of keys that were closed before, or began after, this size.
    """
    body, signatures = parsed(text)
    checkpoint = read(body)
    if checkpoint.origin != ring.origin:
        raise NotGenuine(f"The checkpoint is of another ledger: '{checkpoint.origin}', not '{ring.origin}'.")
    known = verified(body, signatures, {key_id(ring.origin, key.public): key.public for key in ring.keys}, ring.origin)
    if not known:
        raise NotGenuine("No key of the ring has signed this checkpoint.")
    if not any(key.covers(checkpoint.size) for key in ring.keys if key.public in known):
        raise ClosedKey(
            f"The checkpoint of {checkpoint.size} leaves is signed only by a key that is not good for this size "
            "(closed before it, or begun after it). Such a signature is worth nothing."
        )
    return checkpoint


def parsed(text: str) -> tuple[str, list[Signature]]:
    """The text and the signature lines of a note, none of them verified. NotGenuine where it is no note."""
    if len(text) > MOST_CHARACTERS or _forbidden(text):
        raise NotGenuine("This is no signed note: it is too long, or holds control characters.")
    body, gap, lines = text.rpartition("\n\n")
    if not gap or not lines.endswith("\n") or lines.count("\n") > MOST_SIGNATURES:
        raise NotGenuine("This is no signed note: there is no text, an empty line and then signature lines.")
    return body + "\n", [_signature(line) for line in lines[:-1].split("\n")]


def verified(body: str, signatures: Sequence[Signature], keys: dict[bytes, bytes], name: str) -> set[bytes]:
    """Which of the public keys (by key id, under this name) have signed the text.

    Lines of unknown keys are passed over, as signed-note demands; a line of a known key that does not verify spoils
    the note.
    """
    found = set()
    for line in signatures:
        public = keys.get(line.key_id)
        if public is None or line.name != name:
            continue
        try:
            Ed25519PublicKey.from_public_bytes(public).verify(line.value, body.encode())
        except InvalidSignature:
            raise NotGenuine(f"The signature by key {fingerprint(public)[:16]}… does not fit the text.") from None
        found.add(public)
    return found


def read(body: str) -> Checkpoint:
    """The checkpoint that a text states, strictly as `Checkpoint.text` writes it."""
    lines = body.split("\n")
    if len(lines) != 5 or lines[4] or not _NAME.fullmatch(lines[0]) or not _SIZE.fullmatch(lines[1]):
        raise NotGenuine("The text is no checkpoint: origin, size, root and time, one line each.")
    moment = _AT.fullmatch(lines[3])
    try:
        tree_root = base64.b64decode(lines[2], validate=True)
        at = datetime.fromisoformat(moment[1]).replace(tzinfo=UTC) if moment else None
    except (binascii.Error, ValueError) as error:
        raise NotGenuine(f"The text is no checkpoint: {error}.") from error
    if at is None or len(tree_root) != HASH_BYTES:
        raise NotGenuine("The text is no checkpoint: its root has not 32 bytes, or it has no time.")
    checkpoint = Checkpoint(lines[0], int(lines[1]), tree_root, at)
    if checkpoint.text() != body:
        raise NotGenuine("The text is no checkpoint: it is not written in the one way in which it can be.")
    return checkpoint


def _signature(line: str) -> Signature:
    found = _SIGNATURE.fullmatch(line)
    try:
        value = base64.b64decode(found[2], validate=True) if found else b""
    except binascii.Error:
        value = b""
    if found is None or len(value) < 5 or base64.b64encode(value).decode() != found[2]:
        raise NotGenuine("This is no signed note: a signature line is not '— name base64'.")
    return Signature(found[1], value[:4], value[4:])


def _forbidden(text: str) -> bool:
    """ASCII control characters other than the line feed."""
    return any(character < " " and character != "\n" for character in text)
