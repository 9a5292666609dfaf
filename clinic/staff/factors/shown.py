"""How somebody has shown who they are, in words that are kept with what they did."""

from __future__ import annotations

from dataclasses import dataclass, field
from enum import StrEnum

from clinic.staff.factors.passkeys import Answer


class Shown(StrEnum):
    """What was shown. Kept with signatures: a word, once used, keeps its meaning."""

    PASSWORD = "password"  # noqa: S105 - a word that is shown
    CODE = "one-time code"
    PASSWORD_AND_CODE = "password and one-time code"  # noqa: S105 - words that are shown
    PASSWORD_AND_RECOVERY = "password and recovery code"  # noqa: S105 - words that are shown
    PASSKEY = "passkey with user verification"

    @property
    def both(self) -> bool:
        """Whether that is two factors."""
        return self not in (Shown.PASSWORD, Shown.CODE)


@dataclass(frozen=True, slots=True)
class Proof:
    """What is given to show who one is: a password, a one-time or recovery code, the answer of a passkey."""

    password: str = field(default="", repr=False)
    code: str = field(default="", repr=False)
    passkey: Answer | None = field(default=None, repr=False)
