"""What the sealer goes on from: the checkpoint that was signed last, and nothing that merely stands in the database.

Whoever has the database could take back the newest leaves and checkpoints (roll it back to yesterday), or change the
stored edge, and let the sealer sign what follows. So the last checkpoint must be genuine, the edge must have its root,
the leaves must be as many as it says, and it must not be older than the last one that this machine has put into its own
file of checkpoints (publish.py), which the database does not reach.
"""

from __future__ import annotations

from django.db.models import Max

from clinic.ledger import memory, note
from clinic.ledger.merkle import Edge, NotATree
from clinic.ledger.models import Checkpoint, LedgerLeaf
from clinic.ledger.note import NotGenuine
from clinic.ledger.ring import Ring

BACK = "back:"  # how the key of a fault begins where the database is older than the file
GUIDE = "Nothing more is sealed until somebody has looked. Read 'the ledger is broken' in the clinic's guide."


class Broken(Exception):
    """The ledger does not stand where it was left; the message says what does not fit. `key`: for one alarm each."""

    def __init__(self, sentence: str, key: str) -> None:
        super().__init__(f"{sentence} {GUIDE}")
        self.key = key


def standing(ring: Ring) -> Edge:
    """The edge to go on from. Broken where anything does not fit."""
    last = Checkpoint.objects.order_by("-number").first()
    leaves = LedgerLeaf.objects.aggregate(last=Max("position"))["last"]
    size = 0 if leaves is None else leaves + 1
    edge = _edge(last, ring) if last else Edge()
    if size != edge.size:
        raise Broken(f"The last checkpoint has {edge.size} leaves, the tree {size}.", f"leaves:{edge.size}")
    _not_rolled_back(ring, edge)
    return edge


def _edge(last: Checkpoint, ring: Ring) -> Edge:
    try:
        said, edge = note.opened(last.note, ring), Edge.load(bytes(last.edge))
    except (NotGenuine, NotATree) as fault:
        raise Broken(f"The last checkpoint ({last.size} leaves) is not genuine: {fault}", f"note:{last.pk}") from None
    if not (said.size, said.root) == (edge.size, edge.root()) == (last.size, bytes(last.root)):
        raise Broken(f"What is stored beside the last checkpoint ({said.size} leaves) is not its.", f"edge:{last.pk}")
    return edge


def _not_rolled_back(ring: Ring, edge: Edge) -> None:
    """Against the last checkpoint that this machine remembers."""
    text = memory.last_note()
    if not text:
        return
    try:
        known = note.opened(text, ring)
    except NotGenuine as fault:
        raise Broken(f"The last note in the file of checkpoints is not genuine: {fault}", "file") from None
    if known.size > edge.size or not _stands(known):
        raise Broken(
            f"The checkpoint of {known.size} leaves that was signed at {known.at.isoformat()} is not in the database, "
            f"which has {edge.size}: it was rolled back or restored from a backup, or its ledger was rewritten.",
            f"{BACK}{known.size}",
        )


def _stands(known: note.Checkpoint) -> bool:
    """Whether the database has this very checkpoint; an empty ledger needs none."""
    return known.size == 0 or Checkpoint.objects.filter(size=known.size, root=known.root).exists()
