"""The Protocol page: every threshold with its source, and who has made them the clinic's own."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime

from django.conf import settings

from checklists.adoption import steps
from checklists.adoption.models import Adoption
from checklists.adoption.thresholds import NO_SOURCE, Threshold
from checklists.record import protocols
from clinic import access
from clinic.access import Action
from clinic.staff.models import Staff


@dataclass(frozen=True, slots=True)
class Group:
    """The thresholds of one skill, or of the rules. `source`: what all of them rest on, empty where they differ."""

    title: str
    source: str
    rows: Sequence[Threshold]


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
    return Group(title, sources.pop() if len(sources) == 1 else "", rows)
