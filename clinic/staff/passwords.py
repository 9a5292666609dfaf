"""What a password may be: long, and not one of those that everybody tries first, here or anywhere.

NIST SP 800-63B-4 (as quoted in OWASP/ASVS issue 3242): at least 15 characters where it stands alone, at least 64 taken,
no rules of composition, no forced changes, a list of what is refused with the reason told, Unicode normalised. Django's
own list of common passwords lets long ones through that are short ones repeated, counted on or dressed up; those are
caught here, and so is what anybody would try at this clinic: its name, its sites, whose account it is.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable

from django.conf import settings
from django.contrib.auth.password_validation import CommonPasswordValidator
from django.core.exceptions import ValidationError
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from clinic.staff.models import Site, Staff

ROWS = (
    "abcdefghijklmnopqrstuvwxyz",
    "01234567890123456789",
    "qwertyuiop",
    "asdfghjkl",
    "zxcvbnm",
    "azertyuiop",
)
FEWEST_DIFFERENT = 6
SHORTEST_WORD = 3  # of a name: what is shorter stands in too many words
DRESSED = str.maketrans("@4301!5$78", "aaeoiisstb")  # letters in disguise, as every guesser undoes them
TRADE = ("password", "passwort", "clinic", "hospital", "patient", "therapist", "prosthetist", "prosthesis", "gym")
UNRELATED = gettext_lazy("Choose several words that do not belong together.")


class NotGuessable:
    """Refuses repeats, runs along the keyboard, a common password doubled, padded or dressed up, and little more than
    names of this place and person."""

    def __init__(self) -> None:
        self._common = CommonPasswordValidator().passwords

    def validate(self, password: str, user: object = None) -> None:
        """Raise where it is among the first guesses."""
        plain = bare(password)
        if len(set(plain)) < FEWEST_DIFFERENT or _is_repeat(plain):
            raise ValidationError(_("That is one piece said again and again. {unrelated}").format(unrelated=UNRELATED))
        rest = _without_runs(plain)
        if len(rest) < FEWEST_DIFFERENT or self._is_common(rest) or self._is_common(plain.translate(DRESSED)):
            raise ValidationError(_("That is a common password with a tail. {unrelated}").format(unrelated=UNRELATED))
        own = _without(plain, words_of_here(user))
        if own != plain and len(_letters(own)) < FEWEST_DIFFERENT:
            raise ValidationError(
                _(
                    "That is little more than a name or word that anybody would try here: of the clinic, a site, "
                    "its work, or your own. {unrelated}"
                ).format(unrelated=UNRELATED)
            )

    def get_help_text(self) -> str:
        """What the form says beforehand."""
        return _("Several words that do not belong together are strong and can be remembered.")

    def _is_common(self, plain: str) -> bool:
        """Whether it is a common password, or one said again, with figures before, between or behind."""
        letters = _letters(plain)
        return bool({plain, letters, _piece(letters)} & self._common)


def bare(text: str) -> str:
    """Letters and figures alone, however they are composed or cased."""
    return re.sub(r"\W|_", "", unicodedata.normalize("NFKC", text).casefold())


def words_of_here(user: object) -> list[str]:
    """What anybody would try here: names of the clinic, its sites and the person, and words of the trade."""
    named = [settings.CLINIC_NAME, *Site.objects.values_list("name", flat=True)]
    if isinstance(user, Staff):
        named += [user.name, user.username, user.email.partition("@")[0], user.reference]
    parts = [part for name in named for part in (name, *re.split(r"[\W_]+", name))]
    return sorted({*TRADE, *(bare(part) for part in parts if len(bare(part)) >= SHORTEST_WORD)}, key=len, reverse=True)


def _without(plain: str, words: Iterable[str]) -> str:
    for word in words:
        plain = plain.replace(word, "")
    return plain


def _letters(plain: str) -> str:
    return re.sub(r"\d", "", plain)


def _piece(plain: str) -> str:
    """The piece of which the whole is a repetition, or the whole."""
    at = (plain + plain).find(plain, 1) if plain else -1
    return plain[:at] if 0 < at < len(plain) else plain


def _is_repeat(plain: str) -> bool:
    """Whether the whole is a shorter piece, repeated."""
    return _piece(plain) != plain


def _without_runs(plain: str) -> str:
    """What is left without runs of four or more along a row of keys, in either direction."""
    rest = plain
    for row in (row for way in ROWS for row in (way, way[::-1])):
        for length in range(len(row), 3, -1):
            for start in range(len(row) - length + 1):
                rest = rest.replace(row[start : start + length], "")
    return rest
