"""The tree, grown again from the sealed leaves, against every checkpoint with its signatures and the nodes kept."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass

from clinic.ledger import note
from clinic.ledger.grow import grow
from clinic.ledger.merkle import Edge
from clinic.ledger.models import Checkpoint, LedgerNode
from clinic.ledger.note import ClosedKey, NotGenuine
from clinic.ledger.ring import Ring
from clinic.ledger.verify.findings import Kind, Report
from clinic.ledger.verify.rows import streamed

_LEAVES = """
SELECT position, leaf FROM clinic_ledgerleaf WHERE position >= {first} ORDER BY position
"""


@dataclass(frozen=True, slots=True)
class Mark:
    """A checkpoint that somebody knows: here, in the file, or at a witness. `whose` names it for people."""

    size: int
    root: bytes
    whose: str


def verify_tree(ring: Ring, start: Edge, marks: list[Mark], report: Report, tick: Callable[[int], None]) -> Edge:
    """Grow the tree from an edge that is trusted, and compare. `marks`: checkpoints from elsewhere, verified already.

    Returns the edge at the end.
    """
    stored = {(node.level, node.index): bytes(node.hash) for node in LedgerNode.objects.iterator(chunk_size=10_000)}
    ours = _checkpoints(ring, start.size, report)
    stops: dict[int, list[tuple[Checkpoint | None, Mark | None]]] = {}
    for row in ours:
        stops.setdefault(row.size, []).append((row, None))
    for mark in marks:
        stops.setdefault(mark.size, []).append((None, mark))
    edge = start.copy()
    _compare(edge, stops.pop(edge.size, []), report)
    wanted = sorted(size for size in stops if size > edge.size)
    for leaves in _leaves(edge.size, report):
        at = 0
        while at < len(leaves):
            next_stop = wanted[0] - edge.size if wanted else len(leaves)
            piece = leaves[at : at + min(next_stop, len(leaves) - at)]
            at += len(piece)
            _nodes(grow(edge, piece), stored, report)
            if wanted and edge.size == wanted[0]:
                _compare(edge, stops.pop(wanted.pop(0)), report)
        tick(len(leaves))
    report.size = edge.size
    for size in sorted(stops):
        _beyond(size, stops[size], edge.size, report)
    if ours and max(row.size for row in ours) < edge.size:
        report.add(Kind.LEAVES_CHANGED, f"leaves from {max(row.size for row in ours)} on are under no checkpoint")
    return edge


def _checkpoints(ring: Ring, since: int, report: Report) -> list[Checkpoint]:
    """The stored checkpoints whose notes are genuine and say what stands beside them."""
    found = []
    for row in Checkpoint.objects.filter(size__gte=since).order_by("number").iterator(chunk_size=2000):
        report.checkpoints += 1
        where = f"checkpoint {row.pk} of {row.size} leaves"
        try:
            said = note.opened(row.note, ring)
        except ClosedKey as fault:
            report.add(Kind.CLOSED_KEY, f"{where} ({fault})")
            continue
        except NotGenuine as fault:
            report.add(Kind.CHECKPOINT_CHANGED, f"{where} ({fault})")
            continue
        if (said.size, said.root, said.at) != (row.size, bytes(row.root), row.at):
            report.add(Kind.CHECKPOINT_CHANGED, f"{where}: its note says something else")
            continue
        found.append(row)
    return found


def _leaves(first: int, report: Report) -> Iterator[list[bytes]]:
    """The leaf hashes in order, in pieces. A place that is empty or taken twice is reported, and ends the tree."""
    for rows in streamed(_LEAVES.format(first=int(first))):
        leaves = [leaf for _, leaf in rows]
        if rows[0][0] == first and rows[-1][0] == first + len(rows) - 1:
            yield leaves
            first += len(rows)
            continue
        good = next((at for at, (position, _) in enumerate(rows) if position != first + at), len(rows))
        yield leaves[:good]
        report.add(Kind.LEAVES_CHANGED, f"leaf {first + good} is missing", first + good)
        break


def _compare(edge: Edge, stops: list[tuple[Checkpoint | None, Mark | None]], report: Report) -> None:
    """The root of the tree at this size, against whoever has signed one."""
    root = edge.root() if stops else b""
    for row, mark in stops:
        if mark is not None:
            if mark.root != root:
                report.add(Kind.HISTORY_REWRITTEN, f"{mark.whose} has another root at {mark.size} leaves")
        elif row is not None and bytes(row.root) != root:
            where = f"the leaves do not give the root of checkpoint {row.pk} of {row.size} leaves"
            report.add(Kind.LEAVES_CHANGED, where)
        elif row is not None:
            if bytes(row.edge) != edge.dump():
                report.add(Kind.CHECKPOINT_CHANGED, f"checkpoint {row.pk} of {row.size} leaves: the edge beside it")
            report.marks.append((row.size, row.at))


def _nodes(made: list[tuple[int, int, bytes]], stored: dict[tuple[int, int], bytes], report: Report) -> None:
    for level, index, node in made:
        if stored.get((level, index)) != node:
            report.add(Kind.NODES_CHANGED, f"node {level}/{index}")


def _beyond(size: int, stops: list[tuple[Checkpoint | None, Mark | None]], have: int, report: Report) -> None:
    """Checkpoints of more leaves than there are."""
    for row, mark in stops:
        if mark is not None:
            report.add(Kind.ROLLED_BACK, f"{mark.whose} knows {size} leaves, and there are {have}")
        elif row is not None:
            report.add(Kind.LEAVES_CHANGED, f"checkpoint {row.pk} has {size} leaves, and there are {have}")
