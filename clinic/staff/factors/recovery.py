"""Recovery codes: ten, told once, each good once.

24 letters of an alphabet of 31 are 118 bits: enough to be kept as a plain digest (OWASP ASVS 5.0, 6.5.2, draws the line
at 112). Pure.
"""

from __future__ import annotations

import hashlib
import re
import secrets

HOW_MANY, GROUPS, LETTERS_EACH = 10, 4, 6
ALPHABET = "abcdefghjkmnpqrstuvwxyz23456789"  # without those that look like another on paper
_SHAPE = re.compile(f"^[{ALPHABET}]{{{GROUPS * LETTERS_EACH}}}$")


def some_codes() -> list[str]:
    """Ten fresh codes, as they are printed."""
    return [_code() for _ in range(HOW_MANY)]


def _code() -> str:
    return "-".join("".join(secrets.choice(ALPHABET) for _ in range(LETTERS_EACH)) for _ in range(GROUPS))


def bare(code: str) -> str:
    """A code as it counts: letters alone, whatever stands between them and however they are cased."""
    return re.sub(r"[\s-]", "", code.casefold())


def is_one(code: str) -> bool:
    """Whether what was typed has the shape of a recovery code."""
    return bool(_SHAPE.match(bare(code)))


def digest_of(code: str) -> str:
    """What is kept of a code."""
    return hashlib.sha256(bare(code).encode()).hexdigest()
