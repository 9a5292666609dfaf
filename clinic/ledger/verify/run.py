"""One verification: everything, since a checkpoint, or the rows of one episode. It reads and writes nothing.

It sees one state of the database, whatever is written meanwhile. A row that is ours and not sealed yet is no finding.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from uuid import UUID

from django.conf import settings
from django.db import connection, transaction

from clinic.ledger import keys, merkle, note, proofs
from clinic.ledger.merkle import Edge
from clinic.ledger.models import Checkpoint
from clinic.ledger.note import NotGenuine
from clinic.ledger.sources import sources
from clinic.ledger.verify.checks import checks
from clinic.ledger.verify.elsewhere import marks
from clinic.ledger.verify.findings import Kind, Report
from clinic.ledger.verify.rows import MacKeys, Part, fetched, verify_rows
from clinic.ledger.verify.tree import verify_tree

Tick = Callable[[int], None]
OF_EPISODE = {1: "t.episode_id = %s", 2: "t.episode = %s"}


class NothingToVerify(Exception):
    """There is no such checkpoint; the message says what to give instead."""


def _quiet(_: int) -> None:
    """Nobody is watching."""


def verify(*, since: int = 0, witnesses: Sequence[str] | None = None, tick: Tick = _quiet) -> Report:
    """Everything, or what was sealed after the checkpoint of `since` leaves, whose signature is then relied on.

    `witnesses`: addresses or files; those of the settings where none are given.
    """
    report, ring = Report(), keys.ring()
    named = settings.LEDGER_WITNESSES if witnesses is None else witnesses
    known = [mark for mark in marks(ring, named, report) if mark.size >= since]
    with _one_state():
        start = _edge_at(since) if since else Edge()
        verify_tree(ring, start, known, report, tick)
        where = "(l.position >= %s OR l.position IS NULL)" if since else ""
        part = Part(where, [since] if since else [], since)
        for source in sources():
            verify_rows(source, part, mac_keys(), report, tick)
        for check in checks():
            check(part, report, tick)
    return report


def verify_episode(episode: UUID, *, tick: Tick = _quiet) -> Report:
    """The rows of one episode, record and trail, each by its proof under the newest checkpoint."""
    report, ring = Report(), keys.ring()
    with _one_state():
        last = proofs.newest()
        root = _signed_root(last) if last else merkle.EMPTY_ROOT
        report.size = last.size if last else 0
        if last:
            report.checkpoints, report.marks = 1, [(last.size, last.at)]
            note.opened(last.note, ring)
        stored = proofs.Stored()
        for source in sources():
            part = Part(OF_EPISODE[source.code], [episode], whole=False)
            verify_rows(source, part, mac_keys(), report, tick)
            for number, _, _, _, position, leaf in [row for rows in fetched(source, part) for row in rows]:
                if position is not None and not _under(stored, position, leaf, report.size, root):
                    where = f"number {number} of {source.table} is not under the newest checkpoint"
                    report.add(Kind.LEAVES_CHANGED, where, position)
        for check in checks():
            check(Part(OF_EPISODE[1], [episode], whole=False), report, tick)
    report.unseen.append(
        "All other episodes, and rows of this one that somebody took away: verify everything for that."
    )
    return report


def mac_keys() -> MacKeys:
    """Open and closed keys for what is sealed, open ones for what is not."""
    now = keys.mac_keys()
    return MacKeys((*now, *keys.closed_mac_keys()), now)


def _under(stored: proofs.Stored, position: int, leaf: bytes, size: int, root: bytes) -> bool:
    try:
        path = merkle.inclusion_path(position, size, stored.node)
    except (merkle.NotATree, proofs.NotSealed):
        return False
    return merkle.verify_inclusion(leaf, position, size, path, root)


def _edge_at(size: int) -> Edge:
    """The edge of a stored checkpoint, once its signature is seen to carry it."""
    row = Checkpoint.objects.filter(size=size).order_by("-number").first()
    if row is None:
        near = Checkpoint.objects.filter(size__lte=size).order_by("-size").values_list("size", flat=True).first()
        raise NothingToVerify(f"There is no checkpoint of {size} leaves. The one before it has {near or 0}.")
    root, edge = _signed_root(row), Edge.load(bytes(row.edge))
    if (edge.size, edge.root()) != (size, root):
        raise NotGenuine(f"The edge beside the checkpoint of {size} leaves is not its: verify everything.")
    return edge


def _signed_root(row: Checkpoint) -> bytes:
    return note.opened(row.note, keys.ring()).root


@contextmanager
def _one_state() -> Iterator[None]:
    """All questions inside see the same state of the database."""
    with transaction.atomic():
        if not connection.savepoint_ids:  # inside another's transaction (a test's) its state is the one
            with connection.cursor() as cursor:
                cursor.execute("SET TRANSACTION ISOLATION LEVEL REPEATABLE READ, READ ONLY")
        yield
