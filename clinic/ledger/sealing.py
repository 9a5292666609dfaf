"""The key for which a tablet seals what it could not send before its user left, and opening what was sealed.

HPKE (RFC 9180), base mode, DHKEM(P-256, HKDF-SHA256), HKDF-SHA256, AES-128-GCM, by the library; the tablet's half is
clinic/static/clinic/device/hpke.js. Which fact it is and whose goes into `info`: sealed for one name, it opens for no
other. Base mode says nothing of who sealed it, which is why its author looks at it before it is recorded.

    LEDGER_KEYS/sealing/N.key      P-256, private; tablets seal for the newest, all of them open
    LEDGER_KEYS/sealing/N.closed   was ended by `ledger_keys close`: opens until the next one is ended
"""

from __future__ import annotations

import base64
from dataclasses import dataclass
from pathlib import Path

from cryptography.exceptions import InvalidTag
from cryptography.hazmat.primitives import hpke
from cryptography.hazmat.primitives.asymmetric.ec import SECP256R1, EllipticCurvePrivateKey, derive_private_key
from cryptography.hazmat.primitives.serialization import Encoding, PublicFormat
from django.conf import settings

from clinic.clock import ticks
from clinic.ledger import keys

PURPOSE = "gym mark 1"
ENC_BYTES = 65
FOLDER = "sealing"
SUITE = hpke.Suite(hpke.KEM.P256, hpke.KDF.HKDF_SHA256, hpke.AEAD.AES_128_GCM)


class Unreadable(Exception):
    """It was not sealed for one of our keys, or not as this fact of this person."""


@dataclass(slots=True)
class _Known:
    """The newest public key as it was read last, from the folder of the setting."""

    setting: str
    state: int
    looked: float
    said: str


_known: _Known | None = None


def public_key() -> str:
    """The newest key as pages bring it to their scripts: its name and its point. Nothing where there is none."""
    global _known
    setting, now = settings.LEDGER_KEYS, ticks()
    if _known is not None and _known.setting == setting and now - _known.looked < keys.LOOK_AGAIN:
        return _known.said
    state = _state(keys.folder() / FOLDER)
    if _known is None or (_known.setting, _known.state) != (setting, state):
        _known = _Known(setting, state, now, _said())
    _known.looked = now
    return _known.said


def opened(*, key: str, enc: bytes, box: bytes, mark: str, staff: str) -> bytes:
    """What was sealed under this id for this member of staff; else Unreadable."""
    private = _private(key)
    if private is None or len(enc) != ENC_BYTES:
        raise Unreadable("It was sealed for a key that is not here any more.")
    try:
        return SUITE.decrypt(enc + box, private, info="\n".join((PURPOSE, mark, staff)).encode())
    except (InvalidTag, ValueError) as fault:
        raise Unreadable("It was not sealed here as this mark of this person.") from fault


def _said() -> str:
    files = keys.key_files(keys.folder(), FOLDER)
    private = _private(files[0].stem) if files else None
    if private is None:
        return ""
    point = private.public_key().public_bytes(Encoding.X962, PublicFormat.UncompressedPoint)
    return f"{files[0].stem} {base64.b64encode(point).decode()}"


def _private(name: str) -> EllipticCurvePrivateKey | None:
    if not (name.isascii() and name.isdigit() and len(name) < 10):
        return None
    for ending in ("key", "closed"):
        path = keys.folder() / FOLDER / f"{name}.{ending}"
        if path.is_file():
            return derive_private_key(int(path.read_text(encoding="ascii").strip(), 16), SECP256R1())
    return None


def _state(place: Path) -> int:
    try:
        return place.stat().st_mtime_ns
    except FileNotFoundError:
        return 0
