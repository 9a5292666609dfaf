"""Secrets of second factors at rest: encrypted by a key that lies in a file outside the database.

A copy of the database alone gives nobody a code. AES-256-GCM; `about` (whose secret it is) is bound into it, so that a
sealed secret copied to another row does not open there. The file may hold several keys, newest first: everything is
sealed with the first, and opens with whichever sealed it.
"""

from __future__ import annotations

import hashlib
import os
import secrets
from pathlib import Path

from cryptography.exceptions import InvalidTag
from cryptography.hazmat.primitives.ciphers.aead import AESGCM
from django.conf import settings

FILE = "factor-keys"
KEY_BYTES, NONCE_BYTES, NAME_BYTES = 32, 12, 4


class Locked(RuntimeError):
    """The key that sealed this is not here."""


def folder() -> Path:
    """Where the keys lie: the folder of the ledger's keys, which is kept and backed up apart from the database."""
    return Path(getattr(settings, "LEDGER_KEYS", "") or Path(settings.DATA_DIR, "keys"))


def seal(secret: bytes, about: str) -> bytes:
    """Encrypt a secret: name of the key, nonce, ciphertext."""
    key = _keys()[0]
    nonce = os.urandom(NONCE_BYTES)
    return _name(key) + nonce + AESGCM(key).encrypt(nonce, secret, about.encode())


def opened(sealed: bytes, about: str) -> bytes:
    """The secret again. Locked where its key is not here, or where it was sealed for somebody else."""
    name, nonce, text = sealed[:NAME_BYTES], sealed[NAME_BYTES:][:NONCE_BYTES], sealed[NAME_BYTES + NONCE_BYTES :]
    for key in _keys():
        if _name(key) == name:
            try:
                return AESGCM(key).decrypt(nonce, text, about.encode())
            except InvalidTag:
                break
    raise Locked(f"A secret cannot be opened: its key is not in {FILE} in the folder of the keys, or it was moved.")


def _name(key: bytes) -> bytes:
    return hashlib.sha256(key).digest()[:NAME_BYTES]


def _keys() -> list[bytes]:
    """The keys of the file, newest first; made at the first need."""
    path = folder() / FILE
    try:
        text = path.read_text(encoding="ascii")
    except FileNotFoundError:
        text = _made(path)
    return [bytes.fromhex(line) for line in text.split()]


def _made(path: Path) -> str:
    """Make the file with one key, readable by its owner alone. Whoever comes second takes what the first has made."""
    path.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
    partial = path.with_name(f"{FILE}.{secrets.token_hex(4)}")
    with os.fdopen(os.open(partial, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600), "w") as file:
        file.write(secrets.token_bytes(KEY_BYTES).hex() + "\n")
    try:
        os.link(partial, path)
    except FileExistsError:
        pass
    finally:
        partial.unlink()
    return path.read_text(encoding="ascii")
