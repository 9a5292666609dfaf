"""What an enrolled tablet holds, and the code that enrols it. Pure but for the dice."""

from __future__ import annotations

import hashlib
import secrets
from datetime import timedelta
from hmac import compare_digest
from uuid import UUID

from clinic.staff.session_models import Tablet
from clinic.staff.steps import LETTERS

CODE_GOOD_FOR = timedelta(minutes=15)
SECRET_BYTES = 32
CODE_GROUPS, CODE_LETTERS = 2, 5  # 10 letters of 31: some 49 bits, for a quarter of an hour and five tries an address


def digest_of(text: str) -> str:
    """Of something that was drawn by lot: no slow hash is needed where there is nothing to guess."""
    return hashlib.sha256(text.encode()).hexdigest()


def a_secret() -> str:
    """256 bits for a cookie."""
    return secrets.token_urlsafe(SECRET_BYTES)


def a_code() -> str:
    """A code to type once: two groups of five."""
    return "-".join("".join(secrets.choice(LETTERS) for _ in range(CODE_LETTERS)) for _ in range(CODE_GROUPS))


def code_digest(typed: str) -> str:
    """Of a code as somebody typed it: case, blanks and hyphens do not count."""
    return digest_of("".join(letter for letter in typed.casefold() if letter.isalnum()))


def held(tablet: Tablet, secret: str) -> str:
    """What the device keeps."""
    return f"{tablet.pk}.{secret}"


def read(text: str) -> tuple[UUID, str] | None:
    """Which tablet, and its secret, out of what a device sent; nothing where it makes no sense."""
    name, _, secret = text.partition(".")
    try:
        return (UUID(name), secret) if secret else None
    except ValueError:
        return None


def fits(tablet: Tablet, secret: str) -> bool:
    """Whether this is the secret of a tablet that is enrolled."""
    in_use = tablet.enrolled_at is not None and tablet.revoked_at is None and bool(tablet.secret)
    return in_use and compare_digest(tablet.secret, digest_of(secret))
