"""A language that nobody speaks: every marked text with accents and two fifths longer. What stays plain was not marked,
and what breaks breaks in German, too. Made from the texts of the code, for the tests alone."""

from __future__ import annotations

import re
from pathlib import Path

from babel.messages.catalog import Catalog

from clinic.language.catalogue import kept, script, work
from clinic.run.places import ROOT

CODE = "en-xa"  # so that a browser that asks for English is given it
_KEPT = re.compile(r"(\{\w*(?:[.\[!:][^{}]*)?\}|%\(\w+\)[a-z]|%%|%[sd]|</?[a-zA-Z][^>]*>|&\w+;)")
_ACCENTS = str.maketrans(
    "abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ",
    "åƀçđéƒğĥîĵķłɱñöƥɋřšţûṽŵẋýžÅƁÇĐÉƑĜĤÎĴĶĻṀÑÖƤɊŘŠŢÛṼŴẊÝŽ",
)
_MORE = "ôñé ţŵö ţĥřéé ƒöûř ƒîṽé šîẋ šéṽéñ éîĝĥţ ñîñé ţéñ "


def pseudo(text: str) -> str:
    """The text as it is said in no language: its places, marks and spaces at the ends as they were."""
    core = text.strip()
    if not re.search(r"[A-Za-z]", _KEPT.sub("", core)):
        return text
    said = "".join(piece if _KEPT.fullmatch(piece) else piece.translate(_ACCENTS) for piece in _KEPT.split(core))
    words = len(_KEPT.sub("", core))
    more = (_MORE * 40)[: max(2, round(words * 0.4))].strip()
    start, end = text[: len(text) - len(text.lstrip())], text[len(text.rstrip()) :]
    return f"{start}{said} {more}{end}"


def _said(catalog: Catalog) -> Catalog:
    fresh = Catalog(locale="en", domain=catalog.domain, charset="utf-8", fuzzy=False)
    for one in catalog:
        if one.id and not (one.context or "").startswith("format of"):
            ids = one.id if isinstance(one.id, str) else tuple(one.id)
            fresh.add(ids, pseudo(ids) if isinstance(ids, str) else tuple(map(pseudo, ids)), context=one.context)
    return fresh


def make(folder: Path) -> str:
    """Write the language as a folder for LOCALE_PATHS; returns the module that its scripts read."""
    merged = Catalog(locale="en", charset="utf-8", fuzzy=False)
    for catalog in work.catalogs(ROOT, "es", "django").values():
        for one in _said(catalog):
            if one.id:
                merged.add(one.id, one.string, context=one.context)
    path = folder / "en_XA" / "LC_MESSAGES" / "django.mo"
    path.parent.mkdir(parents=True)
    path.write_bytes(kept.compiled(merged))
    scripts = [_said(catalog) for catalog in work.catalogs(ROOT, "es", "djangojs").values()]
    return script.module_of(scripts, CODE)
