"""Where rows stand in the sealed tree, with the paths that prove it: many at once, from few reads."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import datetime, timedelta

from django.db import connection
from django.db.models import Max
from django.db.models.functions import TruncDate, TruncMonth
from django.utils.translation import gettext as _

from checklists.proof.bundle import Earlier, Place
from checklists.proof.offline.notes import note_in
from clinic.errors import Conflict, Invalid
from clinic.ledger import keys, note, proofs
from clinic.ledger.merkle import consistency_path, inclusion_path
from clinic.ledger.models import Checkpoint, LedgerLeaf
from clinic.ledger.note import NotGenuine
from clinic.ledger.sources import Source

_FIRST = """
SELECT DISTINCT c.size, c.note FROM unnest(%s::bigint[]) AS place CROSS JOIN LATERAL (
    SELECT size, note FROM clinic_checkpoint WHERE size > place AND size < %s ORDER BY size, number LIMIT 1
) AS c
"""
DAYS = 40  # so many days are comparable by their last checkpoint; before that, every month by its last


class Tree:
    """The tree under one checkpoint. What was read once is not read again."""

    def __init__(self, size: int) -> None:
        self.size = size
        self._stored = proofs.Stored()

    def places(self, source: Source, numbers: Sequence[int]) -> dict[int, Place]:
        """Number → place, for the rows of a table that are sealed; the others are left out."""
        rows = LedgerLeaf.objects.filter(source=source.code, number__in=numbers, position__lt=self.size)
        found = rows.values_list("number", "position")
        return {number: Place(position, self.path(position)) for number, position in found}

    def path(self, position: int) -> list[str]:
        """The inclusion path of a leaf."""
        return _hex(inclusion_path(position, self.size, self.node))

    def since(self, size: int) -> list[str]:
        """The consistency path from an earlier size."""
        return _hex(consistency_path(size, self.size, self.node))

    def node(self, level: int, index: int) -> bytes:
        """The hash of a complete subtree."""
        try:
            return self._stored.node(level, index)
        except proofs.NotSealed as fault:
            raise Conflict(_("The proof cannot be made: {fault} Run verify_ledger.").format(fault=fault)) from None


def history(tree: Tree, positions: Iterable[int | None], notes: Sequence[str], at: datetime) -> list[Earlier]:
    """Earlier sizes that a bundle can be compared with: the first checkpoints that covered these rows and those given
    (with their notes), and the last of each of the past days and months (sizes alone)."""
    found: dict[int, str] = {}
    with connection.cursor() as cursor:
        cursor.execute(_FIRST, [sorted({one for one in positions if one is not None}), tree.size])
        found.update(cursor.fetchall())
    for text in notes:
        found |= _given(text, tree.size)
    for size in _sizes(at):
        if 0 < size < tree.size:
            found.setdefault(size, "")
    return [Earlier(size, found[size], tree.since(size)) for size in sorted(found)]


def _given(text: str, size: int) -> dict[int, str]:
    """A checkpoint that somebody kept: it must be this ledger's, and no newer than what is proved."""
    text = note_in(text)
    try:
        kept = note.opened(text, keys.ring())
    except NotGenuine as fault:
        raise Invalid(_("The checkpoint given is not one of this ledger's: {fault}").format(fault=fault)) from None
    if kept.size > size:
        raise Conflict(
            _(
                "The checkpoint given has {size} rows, this ledger only {size2}: it was rolled back, or written anew."
            ).format(size=kept.size, size2=size)
        )
    return {kept.size: text} if 0 < kept.size < size else {}


def _sizes(at: datetime) -> list[int]:
    rows, since = Checkpoint.objects.order_by(), at - timedelta(days=DAYS)
    days = rows.filter(at__gte=since).values(day=TruncDate("at")).annotate(size=Max("size"))
    months = rows.filter(at__lt=since).values(month=TruncMonth("at")).annotate(size=Max("size"))
    return sorted({one["size"] for one in (*days, *months)})


def _hex(path: Iterable[bytes]) -> list[str]:
    return [one.hex() for one in path]
