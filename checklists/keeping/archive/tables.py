"""What the database has about a person besides the facts: each table as rows of plain values, for JSON and for CSV."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal
from typing import Any
from uuid import UUID

import orjson
from django.db.models import Q, QuerySet
from django.db.models.fields.related import ForeignKey
from psycopg.types.range import Range

from caseload.models import (
    AdjustmentRequest,
    Assignment,
    Component,
    Cover,
    EmergencyAccess,
    Episode,
    Pause,
    Person,
    PlannedReview,
    Prosthesis,
    Referral,
    Visit,
    Weight,
)
from checklists.alerts.models import Alert, AlertStep
from checklists.record.models import Entry, HeldEntry, RefusedEntry, SignedEvidence
from checklists.signoff.models import Signature
from clinic.audit.models import TrailRow
from clinic.staff.models import Staff

Row = dict[str, Any]
_RISKY = ("=", "+", "-", "@", "\t", "\r")  # a spreadsheet would take it for a formula
_HIDDEN = {"erased_at", "erased_because", "detail_text"}


@dataclass(frozen=True, slots=True)
class Table:
    """One file of the archive, as JSON and as CSV. `name`: its path without an ending."""

    name: str
    rows: Sequence[Row]

    def as_json(self) -> bytes:
        """A list of objects, readable by people too."""
        return orjson.dumps(self.rows, option=orjson.OPT_INDENT_2 | orjson.OPT_APPEND_NEWLINE)

    def as_csv(self) -> bytes:
        """A header and a line each; what a spreadsheet would take for a formula is written as text."""
        out = io.StringIO()
        names = list(self.rows[0]) if self.rows else []
        writer = csv.writer(out)
        writer.writerow(names)
        writer.writerows([_cell(row[name]) for name in names] for row in self.rows)
        return out.getvalue().encode()


def _cell(value: Any) -> str:
    text = "" if value is None else value if isinstance(value, str) else orjson.dumps(value).decode()
    text = text.replace("\0", "\ufffd")
    return f"'{text}" if text.startswith(_RISKY) else text


def sources(person: Person) -> list[tuple[str, QuerySet[Any]]]:
    """Every table that has something about a person, in the order in which they are read; nothing is asked yet."""
    theirs = Episode.objects.filter(person=person)
    of_them = Q(episode__in=theirs.values("pk"))
    return [
        ("person/person", Person.objects.filter(pk=person.pk)),
        ("person/weights", Weight.objects.filter(person=person).order_by("measured_on")),
        ("person/referrals", Referral.objects.filter(person=person).order_by("received_on")),
        ("plans/episodes", theirs.order_by("reference")),
        ("plans/pauses", Pause.objects.filter(of_them).order_by("period")),
        ("plans/assignments", Assignment.objects.filter(of_them).order_by("period")),
        ("plans/covers", Cover.objects.filter(of_them).order_by("period")),
        ("plans/visits", Visit.objects.filter(of_them).order_by("starts_at")),
        ("plans/reviews", PlannedReview.objects.filter(of_them).order_by("due_on")),
        ("plans/requests", AdjustmentRequest.objects.filter(of_them).order_by("asked_at")),
        ("plans/emergency_access", EmergencyAccess.objects.filter(of_them).order_by("period")),
        ("devices/prostheses", Prosthesis.objects.filter(of_them).order_by("side")),
        ("devices/components", Component.objects.filter(prosthesis__episode__in=theirs).order_by("period")),
        ("record/reception", Entry.objects.filter(of_them).order_by("number")),
        ("record/signed", SignedEvidence.objects.filter(entry__episode__in=theirs).order_by("entry__number")),
        ("record/signatures", Signature.objects.filter(entry__episode__in=theirs).order_by("entry__number")),
        ("record/refused", RefusedEntry.objects.filter(of_them).order_by("received_at")),
        ("record/held", HeldEntry.objects.filter(of_them).order_by("received_at")),
        ("alerts/alerts", Alert.objects.filter(of_them).order_by("happened_at", "rule")),
        ("alerts/steps", AlertStep.objects.filter(alert__episode__in=theirs).order_by("pk")),
        ("trail/trail", trail_about(person)),
    ]


def trail_about(person: Person) -> QuerySet[TrailRow]:
    """Who did and saw what about a person, oldest first."""
    about = Q(episode__in=person.episodes.values("pk")) | Q(detail__number=person.number)
    named = [str(person.pk), person.number]
    for rows in (person.episodes, person.referrals, person.erasures, person.archives):
        named += [str(pk) for pk in rows.values_list("pk", flat=True)]
    named += list(person.episodes.values_list("reference", flat=True))
    return TrailRow.objects.filter(about | Q(subject_id__in=named)).order_by("number")


def plain(rows: QuerySet[Any], staff: Mapping[UUID, str]) -> Iterator[Row]:
    """Rows as plain values: members of staff by their reference, bytes in hexadecimal, ranges as [start, end]."""
    fields = [field for field in rows.model._meta.concrete_fields if field.name not in _HIDDEN]
    names = [field.attname for field in fields]
    people = {field.attname for field in fields if isinstance(field, ForeignKey) and field.related_model is Staff}
    for values in rows.values_list(*names):
        yield {
            name.removesuffix("_id") if name in people else name: staff.get(value) if name in people else _plain(value)
            for name, value in zip(names, values, strict=True)
        }


def _plain(value: Any) -> Any:
    if isinstance(value, datetime | date):
        return value.isoformat()
    if isinstance(value, UUID):
        return str(value)
    if isinstance(value, Decimal):
        return float(value)
    if isinstance(value, bytes | memoryview):
        return bytes(value).hex()
    if isinstance(value, Range):
        return None if value.isempty else [_plain(value.lower), _plain(value.upper)]
    if isinstance(value, list | tuple):
        return [_plain(one) for one in value]
    return value


def references() -> dict[UUID, str]:
    """Every member of staff by the reference that the record knows them by."""
    return dict(Staff.objects.values_list("pk", "reference"))
