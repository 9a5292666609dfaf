"""The files of an app's texts in one language: read, brought up to date with the code, written, compiled."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import UTC, datetime
from io import BytesIO
from pathlib import Path

from babel.messages.catalog import Catalog, Message
from babel.messages.mofile import write_mo
from babel.messages.pofile import read_po, write_po

Key = tuple[str | None, str]
_NEVER = datetime(
    2000, 1, 1, tzinfo=UTC
)  # the files say nothing about when they were made: the same text, the same bytes
_SAYS_WHEN = (b'"POT-Creation-Date', b'"PO-Revision-Date', b'"Last-Translator', b'"Language-Team', b'"Report-Msgid')


def path_of(root: Path, app: str, domain: str, language: str, kind: str = "po") -> Path:
    """Where the file lies."""
    return root / app / "locale" / language / "LC_MESSAGES" / f"{domain}.{kind}"


def key_of(message: Message) -> Key:
    """How a text is found again: context and singular."""
    ids = message.id
    return (message.context, ids if isinstance(ids, str) else ids[0])


def read(path: Path, language: str) -> Catalog:
    """The catalogue as it is kept; an empty one where there is none yet."""
    content = BytesIO(path.read_bytes() if path.exists() else b"")
    catalog = read_po(content, locale=language, domain=path.stem, charset="utf-8")
    catalog.creation_date = catalog.revision_date = _NEVER
    return catalog


def brought_up_to_date(kept: Catalog, template: Catalog, others: Iterable[Catalog] = ()) -> Catalog:
    """The texts of the code now, with the translations that stand; what is not there yet is taken from another app that
    has it. What the code no longer says is put aside, to come back with its text."""
    fresh = Catalog(locale=kept.locale, domain=kept.domain, charset="utf-8", fuzzy=False)
    fresh.creation_date = fresh.revision_date = _NEVER
    fresh.header_comment = (
        kept.header_comment if len(kept) else f"# {kept.domain}: texts of the code, made by manage.py words"
    )
    known = {key_of(one): one for one in (*kept.obsolete.values(), *kept) if one.id}
    lent = {key_of(one): one for other in others for one in other if one.id and one.string and not one.fuzzy}
    for text in sorted((one for one in template if one.id), key=lambda one: (one.locations[0], key_of(one)[1])):
        old, borrowed = known.pop(key_of(text), None), lent.get(key_of(text))
        string, flags, comments = (old.string, old.flags, old.user_comments) if old else ("", (), ())
        if not _said(string) and borrowed is not None and isinstance(borrowed.id, str) == isinstance(text.id, str):
            string = borrowed.string
        if isinstance(text.id, str) != isinstance(string, str):
            string = "" if isinstance(text.id, str) else ("", "")
        fresh.add(
            text.id, string, sorted(set(text.locations)), flags, text.auto_comments, comments, context=text.context
        )
    for key, gone in known.items():
        if _said(gone.string):
            fresh.obsolete[str(key)] = gone
    return fresh


def _said(string: str | Sequence[str] | None) -> bool:
    """Whether every form stands."""
    return bool(string) and all(string or ())


def written(catalog: Catalog, *, tidy: bool = False) -> bytes:
    """The catalogue as the bytes of its file. `tidy` leaves out what the code no longer says."""
    content = BytesIO()
    write_po(content, catalog, width=116, include_lineno=False, ignore_obsolete=tidy)
    return b"".join(line for line in content.getvalue().splitlines(True) if not line.startswith(_SAYS_WHEN))


def compiled(catalog: Catalog) -> bytes:
    """What Django reads. A fuzzy translation is none."""
    content = BytesIO()
    write_mo(content, catalog)
    return content.getvalue()
