"""Sealing: committed rows are folded into the tree, in an order that no late commit can slip past, and signed.

A row's place is given when it is sealed. Its number was taken from a sequence before its transaction committed, so that
numbers become visible out of order; every number up to the greatest one seen that was not there is therefore kept as a
gap, and gaps are looked at again in every run, for ever. A transaction that commits late is found by the gap that it
left, however late; a number that was given up costs one row of gaps. Nothing relies on the numbers of transactions,
which a restore begins anew.

Only what bears a MAC of ours, over its columns as they are, is sealed. Any other row stays a gap and raises an alarm:
somebody put it in, or changed it, behind the programme's back. The tree goes on only from a checkpoint that is the one
last signed (trust.py).

**What could be lost unnoticed.** Until its row is sealed, nothing outside the database knows of it: whoever has the
database's superuser can take such a row away, and what is left is a number that looks as if a transaction had given it
up. (They can neither change such a row nor put another in: its MAC.) The sealer runs every SEAL_SECONDS (20), so that
this stretch is a minute at most; clinic/watch shows when it is longer. From then on the row is under a signed root, and
from the next publication (publish.py) the root is elsewhere too.
"""

from __future__ import annotations

import logging
from dataclasses import dataclass
from datetime import datetime

from django.db import connection, transaction

from clinic.access import standing
from clinic.ledger import gaps, gather, keys, memory, note, trust
from clinic.ledger.gather import Found
from clinic.ledger.grow import grow
from clinic.ledger.mac import is_ours
from clinic.ledger.merkle import Edge
from clinic.ledger.models import Checkpoint
from clinic.ledger.ring import Ring
from clinic.ledger.sources import Source, sources
from clinic.outbox.post import publish
from clinic.watch.alarms import raise_alarm
from clinic.watch.beats import beat

log = logging.getLogger(__name__)
AT_ONCE = 20_000  # rows of one table that are read and sealed in one transaction
_ONE_AT_A_TIME = 5_911_700_201_844_731  # an advisory lock, of the sealer's alone


@dataclass(slots=True)
class Sealed:
    """What a run has done. `busy`: another sealer was at work, and nothing was done here."""

    leaves: int = 0
    refused: int = 0
    size: int = 0
    busy: bool = False


def seal(at: datetime, *, at_once: int = AT_ONCE, pieces: int | None = None) -> Sealed:
    """Seal everything that is committed and ours, piece by piece (so many at most), each piece whole or not at all.

    Refuses (trust.Broken, and an alarm) to go on from anything but what was signed last; NoKeys without the keys.
    """
    if standing.present() != standing.EVERYBODY:
        raise RuntimeError("The sealer must see every row: whoever calls it stands as everybody.")
    done = Sealed()
    passed: dict[int, int] = {}
    while pieces is None or pieces > 0:
        pieces = pieces and pieces - 1
        try:
            with transaction.atomic(durable=True):
                more = _piece(at, at_once, passed, done)
        except trust.Broken as broken:
            raise_alarm("ledger.broken", str(broken), at=at, key=f"ledger.broken:{broken.key}")
            raise
        if done.busy:
            return done
        if not more:
            break
    memory.remember()
    beat("seal", at, {"size": done.size})
    return done


def _piece(at: datetime, at_once: int, passed: dict[int, int], done: Sealed) -> bool:
    """One transaction's worth; whether there may be more. `passed`: gaps looked at so far in this run, by source."""
    if not one_at_a_time(wait=False):
        done.busy = True
        return False
    ring = keys.ring()
    edge = trust.standing(ring)
    accepted, leaves, more = keys.mac_keys(), [], False
    for source in sources():
        found = gather.found(source, at_once, passed.get(source.code, 0))
        good, bad = _sorted(found, accepted)
        leaves += [(source.code, number, leaf) for number, leaf in good]
        done.refused += _settle(source, found, bad, at)
        passed[source.code], more = found.passed, more or found.more
    if leaves:
        first = edge.size
        nodes = grow(edge, [leaf for _, _, leaf in leaves])
        gather.write(first, leaves, nodes)
        sign(ring, edge, at)
    done.leaves, done.size = done.leaves + len(leaves), edge.size
    return more


def _sorted(found: Found, accepted: tuple[bytes, ...]) -> tuple[list[tuple[int, bytes]], set[int]]:
    """Numbers and leaves of the rows that are ours; the numbers of those that are not.

    The leaf must be that of the columns: leaf and MAC of another row, copied, fit that row alone.
    """
    good, bad = [], set()
    for number, same, leaf, mac in found.rows:
        if same and is_ours(leaf, mac, accepted):
            good.append((number, leaf))
        else:
            bad.add(number)
    return good, bad


def _settle(source: Source, found: Found, bad: set[int], at: datetime) -> int:
    """Keep the gaps; say what slipped in, once, in the same transaction. How many rows that were."""
    news = gaps.settle(source.code, found, bad)
    if news:
        log.error("ledger: %s rows of %s bear no MAC of ours", len(news), source.table)
        raise_alarm(
            "ledger.slipped_in",
            f"{len(news)} row{'s' if len(news) > 1 else ''} of {source.table} ({_listed(news)}) bear no MAC of this "
            "server's keys: put in or changed behind its back, or LEDGER_KEYS holds other keys than wrote them. "
            "They are not sealed. Read 'a row slipped in' in the clinic's guide.",
            at=at,
            key=f"ledger.slipped_in:{source.code}:{news[0]}",
        )
    return len(news)


def _listed(numbers: list[int]) -> str:
    shown = ", ".join(map(str, numbers[:5]))
    return f"number {shown}{' and more' if len(numbers) > 5 else ''}"


def one_at_a_time(*, wait: bool = True) -> bool:
    """Hold the sealer's lock until the transaction ends; whether it was got."""
    with connection.cursor() as cursor:
        cursor.execute(f"SELECT pg_{'' if wait else 'try_'}advisory_xact_lock(%s)", [_ONE_AT_A_TIME])
        return cursor.fetchone()[0] is not False


def sign(ring: Ring, edge: Edge, at: datetime) -> Checkpoint:
    """A signed checkpoint of the tree as it is, with the news that it is there; in the caller's transaction."""
    made = note.Checkpoint(ring.origin, edge.size, edge.root(), at)
    row: Checkpoint = Checkpoint.objects.create(
        size=made.size, root=made.root, at=at, edge=edge.dump(), note=note.signed(made, keys.signers(ring))
    )
    publish("checkpoint.made", {"checkpoint": row.pk}, at=at, dedupe_key=f"checkpoint.made:{row.pk}")
    return row
