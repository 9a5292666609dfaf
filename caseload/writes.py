"""What every write does in the same way: shape, versions, and the database's refusals turned into sentences."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from datetime import datetime
from typing import Protocol

from django.core.exceptions import ValidationError
from django.db import IntegrityError, transaction
from django.db.models import Field, ForeignKey, Model
from django.utils.translation import gettext as _

from caseload.words import instant_words
from clinic.access.standing import beyond
from clinic.audit.models import TrailRow
from clinic.errors import Invalid, Refusal, Stale

MOST_TEXT = 4_000  # characters, as in the record (SEMANTICS.md §1)


class Versioned(Protocol):
    """A row that several people may have open at once."""

    @property
    def pk(self) -> object:
        """Which row."""

    @property
    def version(self) -> int:
        """How often it was written."""


def fit(row: Model) -> None:
    """Hold every field of a row against its shape (length, choice, address); Invalid with a reason a field."""
    skip = [field.name for field in row._meta.fields if _is_free(field, row)]
    said = [
        f"{field.verbose_name}: {why}" for field in row._meta.fields if (why := _unfit(getattr(row, field.attname)))
    ]
    try:
        row.clean_fields(exclude=skip)
    except ValidationError as error:
        said += [f"{name.replace('_', ' ')}: {' '.join(texts)}" for name, texts in error.message_dict.items()]
    if said:
        raise Invalid(_("Something is missing or does not fit."), reasons=said)


def because(reason: str, otherwise: str) -> str:
    """A reason without the space around it; where there is none, Invalid with the sentence that asks for it."""
    reason = reason.strip()
    if not reason:
        raise Invalid(otherwise)
    if why := _unfit(reason):
        raise Invalid(_("The reason: {why}.").format(why=why))
    return reason


def _is_free(field: Field[object, object], row: Model) -> bool:
    """Keys are loaded rows, and what may be nothing and is nothing fits."""
    return isinstance(field, ForeignKey) or (field.null and getattr(row, field.attname) is None)


def _unfit(value: object) -> str:
    """Why a text cannot be kept: too long for anybody to read, or with characters that no database takes."""
    if not isinstance(value, str):
        return ""
    if len(value) > MOST_TEXT:
        return _("is longer than {most} characters").format(most=f"{MOST_TEXT:,}")
    unfit = any(ch == "\0" or "\ud800" <= ch <= "\udfff" for ch in value)
    return _("has characters that are no text") if unfit else ""


@contextmanager
def refused_as(refusal: Callable[[], Refusal], *constraints: str) -> Iterator[None]:
    """Do one write in a savepoint. Where one of these constraints refuses it, raise what `refusal` makes instead."""
    try:
        with transaction.atomic():
            yield
    except IntegrityError as error:
        said = getattr(getattr(error.__cause__, "diag", None), "constraint_name", None)
        if said not in constraints:
            raise
        raise refusal() from error


def differences(row: Model, wanted: Mapping[str, object]) -> list[str]:
    """Set what differs on the row; the names of the fields that did, in the order given."""
    changed = [name for name, value in wanted.items() if getattr(row, name) != value]
    for name in changed:
        setattr(row, name, wanted[name])
    return changed


def unless_stale(row: Versioned, version: int, subject: str, *, zone: str) -> None:
    """Refuse a write that was made from an older state of the row, and say who changed what since then."""
    if row.version == version:
        return
    since = changes_since(subject, row.pk, version, zone=zone)
    raise Stale(_("Somebody else changed this meanwhile. Look at it as it stands now, then decide."), reasons=since)


def changes_since(subject: str, subject_id: object, version: int, *, zone: str) -> list[str]:
    """What the trail says of a row after a version of it, oldest first: who, when, and which fields or step."""
    with beyond("whoever was slower is told who was quicker, and what of this row they changed"):
        return _changes_since(subject, subject_id, version, zone)


def _changes_since(subject: str, subject_id: object, version: int, zone: str) -> list[str]:
    rows = TrailRow.objects.filter(subject=subject, subject_id=str(subject_id), detail__version__gt=version)
    clinic = _("the clinic")
    return [
        f"{row.actor.name if row.actor else clinic}, {instant_words(row.at, zone)}: {_did(row)}"
        for row in rows.select_related("actor").order_by("number")
    ]


def _did(row: TrailRow) -> str:
    fields: Sequence[str] = row.detail.get("fields", ())
    step = row.verb.partition(".")[2].replace("_", " ")
    return f"{step} ({', '.join(name.replace('_', ' ') for name in fields)})" if fields else step


def until(lower: datetime | None, upper: datetime | None, zone: str) -> str:
    """A period in words, its last moment left out: 'since 3 Nov 2026, 09:00' or '… to …'."""
    since = instant_words(lower, zone) if lower else _("the beginning")
    if upper is None:
        return _("since {start}").format(start=since)
    return _("{start} to {end}").format(start=since, end=instant_words(upper, zone))
