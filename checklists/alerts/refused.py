"""What was refused, as its alert tells of it: once it is seen to, nobody is asked to record it a second time."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime
from uuid import UUID

from django.db.models import Exists, OuterRef
from django.utils.translation import gettext as _

from checklists.record.models import Entry, RefusedEntry
from clinic.web.tags import moment


@dataclass(frozen=True, slots=True)
class SeenTo:
    """When what was refused was seen to, and by whom. `again`: it was entered again; `stands`: and that is in the
    record."""

    at: datetime
    by: str
    again: bool
    stands: bool


@dataclass(frozen=True, slots=True)
class Refused:
    """What was refused, as the fact of an act; and that it is seen to, where it is."""

    fact: dict[str, object]
    seen_to: SeenTo | None


def refused_under(ids: Iterable[UUID]) -> dict[UUID, Refused]:
    """What was refused under these ids. One statement."""
    stands = Entry.objects.filter(id=OuterRef("again_as"), episode=OuterRef("episode"))
    rows = RefusedEntry.objects.filter(pk__in=list(ids)).select_related("sender", "settled_by")
    return {row.pk: _read(row, stands=row.stands) for row in rows.annotate(stands=Exists(stands))}


def _read(row: RefusedEntry, *, stands: bool) -> Refused:
    fact: dict[str, object] = {
        "kind": "refused",
        "by": row.sender.reference,
        "raw": row.raw,
        "error": row.error,
    }
    if row.settled_at is None or row.settled_by is None:
        return Refused(fact, None)
    return Refused(fact, SeenTo(row.settled_at, row.settled_by.name, row.again_as is not None, stands))


def seen_to_words(seen: SeenTo) -> str:
    """What is left to do once it is seen to: not to record it once more."""
    if seen.stands:
        words = _("It was entered again on {day} by {name}. See to the person, and say what was done.")
    elif seen.again:
        words = _(
            "It was sent again on {day} by {name} and is not in the record: look under Set aside. See to the person, "
            "and say what was done."
        )
    else:
        words = _("{name} said on {day} that it is seen to. See to the person, and say what was done.")
    return words.format(day=moment(seen.at), name=seen.by)
