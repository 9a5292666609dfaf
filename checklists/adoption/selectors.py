"""The Protocol page: every threshold with its source, and who has made them the clinic's own."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime

from django.conf import settings
from django.utils.text import slugify
from django.utils.translation import ngettext

from checklists.adoption import steps
from checklists.adoption.models import Adoption
from checklists.adoption.thresholds import NO_SOURCE, Threshold
from checklists.pictures import names
from checklists.pictures.words import RUNGS
from checklists.record import protocols
from checklists.words import said
from clinic import access
from clinic.access import Action
from clinic.staff.models import Staff

_ON = " in a row, on: "
_OFTEN = re.compile(r"at least (\d+)")


@dataclass(frozen=True, slots=True)
class Row:
    """One threshold in the reader's words. What is adopted keeps the document's own."""

    what: str
    value: str
    source: str


@dataclass(frozen=True, slots=True)
class Group:
    """The thresholds of one skill, or of the rules. `name`: as the staircase calls it, `title`: the whole of it where
    that says more; `source`: what all of them rest on, empty where they differ; `anchor`: where it stands."""

    name: str
    title: str
    source: str
    rows: Sequence[Row]
    anchor: str


@dataclass(frozen=True, slots=True)
class ProtocolPage:
    """Everything on the page. `digest`: of the list, given back with the adoption."""

    reference: str
    title: str
    note: str
    document_digest: str
    groups: Sequence[Group]
    many: int
    unsourced: int
    digest: str
    statement: str
    adoption: Adoption | None
    may_adopt: bool


def protocol_page(actor: Staff, *, at: datetime) -> ProtocolPage:
    """The current version with all its thresholds; whether the actor may adopt it is part of it."""
    access.permit(actor, Action.SEE_PROTOCOL, at)
    version = protocols.current(at)
    document = protocols.loaded(version.pk).document
    page = steps.shown(version)
    adoption = Adoption.objects.filter(protocol=version).first()
    return ProtocolPage(
        reference=str(version),
        title=document.get("title", version.key),
        note=document.get("note", ""),
        document_digest=version.digest,
        groups=_grouped(page.rows),
        many=len(page.rows),
        unsourced=sum(row.source == NO_SOURCE for row in page.rows),
        digest=page.digest,
        statement=steps.statement(actor.name, settings.CLINIC_NAME, version, len(page.rows)),
        adoption=adoption,
        may_adopt=adoption is None and access.reach(actor, Action.ADOPT_PROTOCOL, at) is not None,
    )


def is_adopted(at: datetime) -> bool:
    """Whether the current version is adopted here: until then nobody can be taken on."""
    return Adoption.objects.filter(protocol=protocols.current(at)).exists()


def _grouped(rows: Iterable[Threshold]) -> list[Group]:
    groups: dict[str, list[Threshold]] = {}
    for row in rows:
        groups.setdefault(row.group, []).append(row)
    return [_group(title, inside) for title, inside in groups.items()]


def _group(title: str, rows: Sequence[Threshold]) -> Group:
    sources = {row.source for row in rows}
    holder, _slash, rest = rows[0].place.partition("/")
    key = rest.split("/")[0] if holder == "skills" else ""
    whole = said(title)
    name = names.short(key, title) if key else whole
    return Group(
        name=name,
        title=whole if whole != name else "",
        source=said(sources.pop()) if len(sources) == 1 else "",
        rows=[_row(row) for row in rows],
        anchor=f"skill-{key}" if key else slugify(title),
    )


def _row(row: Threshold) -> Row:
    where, on, support = row.what.partition(_ON)
    rung, comma, rest = support.partition(",")
    rung = RUNGS.english.get(rung.replace(" ", "_"), rung)
    return Row(said(f"{where}{on}{rung}{comma}{rest}"), _value(row), said(row.source))


def _value(row: Threshold) -> str:
    """How often a rule asks for something that came before is said as often, not as an amount."""
    found = _OFTEN.fullmatch(row.value) if row.place.startswith("rules/") else None
    if found is None:
        return said(row.value)
    n = int(found[1])
    return ngettext("once before it", "{n} times before it", n).format(n=n)
