"""What a password may be: long, and not one of those that everybody tries first.

At least 15 characters, any characters, no forced changes (NIST SP 800-63B-4, from memory). Django's own list of common
passwords lets long ones through that are short ones repeated or counted on; those are caught here.
"""

from __future__ import annotations

import re

from django.conf import settings
from django.contrib.auth.password_validation import CommonPasswordValidator
from django.core.exceptions import ValidationError

ROWS = (
    "abcdefghijklmnopqrstuvwxyz",
    "01234567890123456789",
    "qwertyuiop",
    "asdfghjkl",
    "zxcvbnm",
    "azertyuiop",
)
FEWEST_DIFFERENT = 6
UNRELATED = "Choose several words that do not belong together."


class NotGuessable:
    """Refuses repeats, runs along the keyboard, a common password doubled or padded, and the clinic's own name."""

    def __init__(self) -> None:
        self._common = CommonPasswordValidator().passwords

    def validate(self, password: str, user: object = None) -> None:
        """Raise where it is among the first guesses."""
        plain = re.sub(r"\W|_", "", password.casefold())
        if len(set(plain)) < FEWEST_DIFFERENT or self._is_repeat(plain):
            raise ValidationError(f"That is one piece said again and again. {UNRELATED}")
        rest = self._without_runs(plain)
        if len(rest) < FEWEST_DIFFERENT or rest in self._common:
            raise ValidationError(f"That is a common password with a tail. {UNRELATED}")
        name = re.sub(r"\W|_", "", settings.CLINIC_NAME.casefold())
        if name and len(plain.replace(name, "")) < FEWEST_DIFFERENT:
            raise ValidationError("That is little more than the name of the clinic.")

    def get_help_text(self) -> str:
        """What the form says beforehand."""
        return "Several words that do not belong together are strong and can be remembered."

    @staticmethod
    def _is_repeat(plain: str) -> bool:
        """Whether the whole is a shorter piece, repeated."""
        return bool(plain) and plain in (plain + plain)[1:-1]

    @staticmethod
    def _without_runs(plain: str) -> str:
        """What is left without runs of four or more along a row of keys, in either direction."""
        rest = plain
        for row in (row for way in ROWS for row in (way, way[::-1])):
            for length in range(len(row), 3, -1):
                for start in range(len(row) - length + 1):
                    rest = rest.replace(row[start : start + length], "")
        return rest
