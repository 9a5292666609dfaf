"""One-time codes by time (RFC 6238, over RFC 4226): six digits, steps of 30 seconds, SHA-1, as every app makes them.

Pure: the instant is an argument. The arithmetic is the library's; what is ours is which steps count. A code is good
once, and no code of an earlier step is good after it.
"""

from __future__ import annotations

import base64
import hmac
import secrets
from datetime import datetime
from urllib.parse import quote

from cryptography.hazmat.primitives.hashes import SHA1
from cryptography.hazmat.primitives.twofactor.hotp import HOTP

STEP_SECONDS, DIGITS = 30, 6
SECRET_BYTES = 20  # RFC 4226 §4, R6: 160 bits recommended
DRIFT = 1  # steps: the clock of a telephone may be that far off, and no further


def a_secret() -> bytes:
    """A fresh secret."""
    return secrets.token_bytes(SECRET_BYTES)


def step_of(at: datetime) -> int:
    """The number of the time step of an instant."""
    return int(at.timestamp()) // STEP_SECONDS


def code_of(secret: bytes, step: int) -> str:
    """The code of a step."""
    # S303: SHA-1 is what the apps speak; in an HMAC of a secret it is not the collisions that matter
    return HOTP(secret, DIGITS, SHA1()).generate(step).decode()  # noqa: S303 - RFC 6238 has SHA-1 inside HMAC


def matching_step(secret: bytes, code: str, at: datetime, *, after: int | None) -> int | None:
    """The step whose code this is, near an instant and later than `after`; nothing where it is none of them."""
    now, found = step_of(at), None
    for step in range(now - DRIFT, now + DRIFT + 1):
        if hmac.compare_digest(code_of(secret, step).encode(), code.encode()) and (after is None or step > after):
            found = step
    return found


def typed(code: str) -> str:
    """A code as it was meant, without the blanks that people put into it."""
    return "".join(code.split())


def spelled(secret: bytes) -> str:
    """The secret in letters, in groups of four, for whoever types it instead of scanning."""
    text = base64.b32encode(secret).decode().rstrip("=")
    return " ".join(text[start : start + 4] for start in range(0, len(text), 4))


def address(secret: bytes, *, clinic: str, username: str) -> str:
    """What the square picture says: the `otpauth:` address that apps read."""
    label = f"{quote(clinic, safe='')}:{quote(username, safe='')}"
    letters = base64.b32encode(secret).decode().rstrip("=")
    return (
        f"otpauth://totp/{label}?secret={letters}&issuer={quote(clinic, safe='')}&digits={DIGITS}&period={STEP_SECONDS}"
    )
