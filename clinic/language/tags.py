"""Which language somebody reads: tags out of settings, cookies, browsers and the person's own field (BCP 47).

Django's code of a language is in small letters (`en-gb`), the tag in a page's `lang` as it is written (`en-GB`).
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager

from django.conf import settings
from django.utils import translation
from django.utils.translation.trans_real import language_code_re


def known(tag: str) -> str:
    """The code of the language here that fits a tag best (`es-MX` is read in `es`), or nothing where none does."""
    if not language_code_re.match(tag):
        return ""
    try:
        return translation.get_supported_language_variant(tag.lower())
    except LookupError:
        return ""


def choices() -> list[tuple[str, str]]:
    """Code and own name of every language here: who looks for theirs knows it by that name."""
    return list(settings.LANGUAGES)


def present() -> str:
    """The code of the language that is read now."""
    return translation.get_language() or settings.LANGUAGE_CODE


def written(code: str) -> str:
    """A code as a tag for `lang` and `Content-Language`."""
    language, _, region = code.partition("-")
    return f"{language}-{region.upper()}" if region else language


def direction(code: str) -> str:
    """Which way the language is written: for `dir`."""
    return "rtl" if code.split("-")[0] in settings.LANGUAGES_BIDI else "ltr"


@contextmanager
def speaking_to(tag: str) -> Iterator[str]:
    """What is made inside is read by somebody with this tag, whatever the language of whoever makes it. Yields the
    code; somebody whose language is not here is given the clinic's first one."""
    code = known(tag) or settings.LANGUAGE_CODE
    with translation.override(code):
        yield code
