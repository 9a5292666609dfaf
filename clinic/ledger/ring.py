"""The public key ring: which keys signed a ledger's checkpoints, each for which sizes, and who handed on to whom.

The ring is public and can be copied anywhere. It proves its own inner links: each later key is *introduced* by a
statement (a signed note) that carries the signature of the key before it and its own, and a key is *closed* by a
statement of a later one. So whoever knows the fingerprint of one key from elsewhere can follow the links to the others
(`checked`). After its closing an old key's signature over a larger size is worth nothing, whoever may hold the key.

Rotation: `introduce` at the present size; seal with both keys (the overlap); `close` the old key at the size of the
last checkpoint that carries both signatures. A stolen key is closed at once, by the new key alone.
"""

from __future__ import annotations

import base64
import binascii
import json
import re
from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from typing import Any

from clinic.ledger.note import NotGenuine, Signer, fingerprint, key_id, parsed, sign_text, verified

FORMAT = 1
_INTRODUCED = re.compile(r"(\S+)\nkey introduced\nkey (\S+)\nby (\S+)\nfrom size (0|[1-9]\d*)\nat (\S+)\n")
_CLOSED = re.compile(r"(\S+)\nkey closed\nkey (\S+)\nby (\S+)\nat size (0|[1-9]\d*)\nat (\S+)\n")


@dataclass(frozen=True, slots=True)
class RingKey:
    """One public key. Good for sizes from `first` up to and including `last` (None: still open)."""

    public: bytes
    first: int = 0
    last: int | None = None
    introduction: str = ""
    closing: str = ""

    def covers(self, size: int) -> bool:
        """Whether its signature counts for a checkpoint of this size."""
        return self.first <= size and (self.last is None or size <= self.last)

    @property
    def fingerprint(self) -> str:
        """What people compare."""
        return fingerprint(self.public)


@dataclass(frozen=True, slots=True)
class Ring:
    """The keys of one ledger, oldest first."""

    origin: str
    keys: tuple[RingKey, ...]

    def dump(self) -> str:
        """The ring as JSON text; `load` reads it back."""
        keys = [
            {
                "fingerprint": key.fingerprint,
                "public": base64.b64encode(key.public).decode(),
                "first": key.first,
                "last": key.last,
                "introduction": key.introduction,
                "closing": key.closing,
            }
            for key in self.keys
        ]
        return json.dumps({"format": FORMAT, "origin": self.origin, "keys": keys}, indent=1, ensure_ascii=False) + "\n"

    @classmethod
    def load(cls, text: str) -> Ring:
        """A ring whose inner links hold; anything else: NotGenuine."""
        try:
            said = json.loads(text)
            if said["format"] != FORMAT:
                raise NotGenuine(f"The key ring has format {said['format']}; this program reads {FORMAT}.")
            ring = cls(str(said["origin"]), tuple(_key(each) for each in said["keys"]))
        except (ValueError, KeyError, TypeError, binascii.Error) as error:
            raise NotGenuine(f"This is no key ring: {error}.") from error
        return ring.checked()

    def checked(self) -> Ring:
        """Itself, when every later key is introduced and every closing is signed as it must be; else NotGenuine."""
        if not self.keys or len({key.public for key in self.keys}) != len(self.keys):
            raise NotGenuine("The key ring is empty or names a key twice.")
        for place, key in enumerate(self.keys):
            if place:
                _check_introduction(self, place)
            elif key.introduction or key.first:
                raise NotGenuine("The first key of the ring begins at size 0 and is introduced by nobody.")
            if key.closing or key.last is not None:
                _check_closing(self, place)
        return self

    def goes_on_from(self, before: Ring) -> bool:
        """Whether this ring is the earlier one with keys added at the end and open keys closed, and nothing else."""
        return (
            self.origin == before.origin
            and len(self.keys) >= len(before.keys)
            and all(
                (was.public, was.first, was.introduction) == (now.public, now.first, now.introduction)
                and (was.last is None or (was.last, was.closing) == (now.last, now.closing))
                for was, now in zip(before.keys, self.keys, strict=False)
            )
        )

    def introduce(self, old: Signer, new: Signer, *, size: int, at: datetime) -> Ring:
        """The ring with a new key, good from this size on, by a statement that both keys sign."""
        text = _statement(self.origin, "introduced", new.public, old.public, f"from size {size}", at)
        key = RingKey(new.public, first=size, introduction=sign_text(text, [old, new]))
        return replace(self, keys=(*self.keys, key)).checked()

    def close(self, public: bytes, by: Signer, *, size: int, at: datetime) -> Ring:
        """The ring in which this key's signature counts no more for larger sizes, by a statement of a later key."""
        text = _statement(self.origin, "closed", public, by.public, f"at size {size}", at)
        closing = sign_text(text, [by])
        keys = tuple(replace(key, last=size, closing=closing) if key.public == public else key for key in self.keys)
        return replace(self, keys=keys).checked()


def new_ring(signer: Signer) -> Ring:
    """The ring of a new ledger: one key, open, from the beginning."""
    return Ring(signer.name, (RingKey(signer.public),))


def _statement(origin: str, what: str, key: bytes, by: bytes, size: str, at: datetime) -> str:
    moment = at.astimezone(UTC).replace(tzinfo=None).isoformat(timespec="microseconds") + "Z"
    return f"{origin}\nkey {what}\nkey {_written(key)}\nby {_written(by)}\n{size}\nat {moment}\n"


def _written(public: bytes) -> str:
    return base64.b64encode(public).decode()


def _key(said: Mapping[str, Any]) -> RingKey:
    public = base64.b64decode(said["public"], validate=True)
    key = RingKey(public, said["first"], said["last"], str(said["introduction"]), str(said["closing"]))
    sizes = [key.first] if key.last is None else [key.first, key.last]
    if len(public) != 32 or said["fingerprint"] != key.fingerprint or any(type(size) is not int for size in sizes):
        raise NotGenuine("The key ring holds a key that does not fit its fingerprint, or sizes that are no numbers.")
    return key


def _check_introduction(ring: Ring, place: int) -> None:
    key, before = ring.keys[place], ring.keys[place - 1]
    said = _said(ring, key.introduction, _INTRODUCED, {key.public, before.public})
    if said != (ring.origin, _written(key.public), _written(before.public), str(key.first)):
        raise NotGenuine(f"Key {key.fingerprint[:16]}… is not introduced by the key before it as the ring states.")


def _check_closing(ring: Ring, place: int) -> None:
    key = ring.keys[place]
    for later in ring.keys[place + 1 :]:
        wanted = (ring.origin, _written(key.public), _written(later.public), str(key.last))
        if f"by {wanted[2]}\n" in key.closing and _said(ring, key.closing, _CLOSED, {later.public}) == wanted:
            return
    raise NotGenuine(f"The closing of key {key.fingerprint[:16]}… is not signed by a later key as the ring states.")


def _said(ring: Ring, statement: str, form: re.Pattern[str], signers: set[bytes]) -> tuple[str, ...]:
    """What a statement says (origin, key, by, size), once all of these keys are seen to have signed it."""
    body, signatures = parsed(statement)
    signed_by = verified(body, signatures, {key_id(ring.origin, public): public for public in signers}, ring.origin)
    found = form.fullmatch(body)
    if found is None or signed_by != signers:
        raise NotGenuine("A statement of the key ring is not signed by the keys that it names.")
    return found.groups()[:4]
