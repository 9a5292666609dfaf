"""What every write does in the same way: shape, versions, and the database's refusals turned into sentences."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from datetime import datetime
from typing import Protocol

from django.core.exceptions import ValidationError
from django.db import IntegrityError, transaction
from django.db.models import ForeignKey, Model

from caseload.words import instant_words
from clinic.audit.models import TrailRow
from clinic.errors import Invalid, Refusal, Stale


class Versioned(Protocol):
    """A row that several people may have open at once."""

    @property
    def pk(self) -> object:
        """Which row."""

    @property
    def version(self) -> int:
        """How often it was written."""


def fit(row: Model) -> None:
    """Hold every field of an unsaved row against its shape (length, choice, address); Invalid with a reason a field."""
    keys = [field.name for field in row._meta.fields if isinstance(field, ForeignKey)]
    try:
        row.clean_fields(exclude=keys)
    except ValidationError as error:
        said = [f"{name.replace('_', ' ')}: {' '.join(texts)}" for name, texts in error.message_dict.items()]
        raise Invalid("Something is missing or does not fit.", reasons=said) from error


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
    raise Stale("Somebody else changed this meanwhile. Look at it as it stands now, then decide.", reasons=since)


def changes_since(subject: str, subject_id: object, version: int, *, zone: str) -> list[str]:
    """What the trail says of a row after a version of it, oldest first: who, when, and which fields or step."""
    rows = TrailRow.objects.filter(subject=subject, subject_id=str(subject_id), detail__version__gt=version)
    return [
        f"{row.actor.name if row.actor else 'the clinic'}, {instant_words(row.at, zone)}: {_did(row)}"
        for row in rows.select_related("actor").order_by("number")
    ]


def _did(row: TrailRow) -> str:
    fields: Sequence[str] = row.detail.get("fields", ())
    step = row.verb.partition(".")[2].replace("_", " ")
    return f"{step} ({', '.join(name.replace('_', ' ') for name in fields)})" if fields else step


def until(lower: datetime | None, upper: datetime | None, zone: str) -> str:
    """A period in words, its last moment left out: 'since 3 Nov 2026, 09:00' or '… to …'."""
    since = instant_words(lower, zone) if lower else "the beginning"
    return f"since {since}" if upper is None else f"{since} to {instant_words(upper, zone)}"
