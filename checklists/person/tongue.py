"""In which language the page that the person takes home stands, and the way to the other one.

It is printed in the person's. Whoever gives it to them may read it in their own first, so as to know what it says.
"""

from __future__ import annotations

from dataclasses import dataclass

from django.conf import settings
from django.utils.translation import gettext as _

from clinic.language import tags


@dataclass(frozen=True, slots=True)
class Tongue:
    """`code`: the language of the page. `mine`: it is the reader's own, to read and not to print, and `said` says so.
    `way`: what the way to it says, in their own language (`own`); empty where the person's is the same. `halt`: what
    stands above whatever speaks against giving it, in the reader's own."""

    code: str
    own: str
    mine: bool
    way: str
    said: str
    halt: str


def tongue_of(persons: str, *, mine: bool) -> Tongue:
    """The person's language by its tag, or the reader's: that of the pages now."""
    own, theirs = tags.present(), tags.known(persons) or settings.LANGUAGE_CODE
    mine = mine and own != theirs
    said = _("You read it in English. The person takes it home in: {language}.").format(
        language=dict(tags.choices())[theirs]
    )
    return Tongue(
        code=own if mine else theirs,
        own=tags.written(own),
        mine=mine,
        way="" if own == theirs else _("Read it in English"),
        said=said if mine else "",
        halt=_("Not to be given to them yet"),
    )
