"""A new key of each kind, and the end of the old ones.

`rotate` adds; from then on rows are written with the new MAC key and checkpoints bear both signatures. Both count, so
that web processes, transactions under way and witnesses may follow in their own time. `close` ends the old keys: rows
that bear the old MAC are not sealed any more, and the old seal key's signature is worth nothing for any larger ledger,
whoever may hold it. A key that was stolen is closed at once: rotate, then close with `at_once`.
"""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from pathlib import Path

from django.conf import settings
from django.db import transaction

from clinic.audit import trail
from clinic.ledger import keys, trust
from clinic.ledger.merkle import Edge
from clinic.ledger.note import Signer
from clinic.ledger.ring import Ring
from clinic.ledger.seal import one_at_a_time, seal, sign
from clinic.outbox.post import publish

OVERLAP = timedelta(minutes=10)  # longer than any transaction of ours, and than a process takes to see a new key


class NotNow(Exception):
    """Keys cannot be rotated or closed as things stand; the message says what to do."""


def rotate(at: datetime) -> Ring:
    """Introduce new keys, by a statement of the old one. Refused (NotNow) while an earlier rotation is not closed."""
    place, ring = keys.folder(), keys.ring()
    with transaction.atomic(durable=True):
        one_at_a_time()
        old = keys.signers(ring)
        if len(old) > 1:
            raise NotNow("The last rotation is not finished: close the old keys first (ledger_keys close).")
        edge = trust.standing(ring)
        keys.add_mac(place)
        keys.add_sealing(place)
        new = Signer(ring.origin, keys.add_seal(place))
        ring = ring.introduce(old[0], new, size=edge.size, at=at)
        _say(ring, "ledger_keys.rotated", new, at)
        _sign(ring, edge, at)
        keys.write_ring(place, ring)  # before the commit: a checkpoint by a key that no ring names is good for nothing
    keys.forget()
    return ring


def close(at: datetime, *, at_once: bool = False) -> Ring:
    """End the old keys, at the size of a checkpoint that bears both signatures.

    Refused (NotNow) where there is no newer key, and, unless `at_once`, sooner than ten minutes after the rotation.
    """
    place, ring = keys.folder(), keys.ring()
    if len(keys.signers(ring)) < 2:
        raise NotNow("There is no newer key: rotate first (ledger_keys rotate).")
    if not at_once and at - _made_at(place) < OVERLAP:
        raise NotNow("The new keys are younger than ten minutes: wait, or say --at-once if the old ones were stolen.")
    seal(at)
    with transaction.atomic(durable=True):
        one_at_a_time()
        edge = trust.standing(ring)
        old, new = keys.signers(ring)
        _sign(ring, edge, at)
        ring = ring.close(old.public, new, size=edge.size, at=at)
        _say(ring, "ledger_keys.closed", old, at)
        keys.write_ring(place, ring)
    keys.end_oldest(place)
    return ring


def _sign(ring: Ring, edge: Edge, at: datetime) -> None:
    """A checkpoint of the size as it is, by all keys that are open."""
    if edge.size:
        sign(ring, edge, at)


def _say(ring: Ring, verb: str, signer: Signer, at: datetime) -> None:
    """Account for it, and let the witnesses know the ring as it is now."""
    key = next(one for one in ring.keys if one.public == signer.public)
    trail.record(None, verb, "ledger", ring.origin[:80], at=at, detail={"key": key.fingerprint})
    for address in settings.LEDGER_WITNESSES:
        dedupe = f"ring.changed:{verb}:{key.fingerprint}:{address}"[:200]
        publish("ring.changed", {"witness": address}, at=at, dedupe_key=dedupe)


def _made_at(place: Path) -> datetime:
    """When the newest key was made, by its file."""
    made = keys.key_files(place, "seal")[0].stat().st_mtime
    return datetime.fromtimestamp(made, tz=UTC)
