"""Going on after a restore from a backup, when somebody who answers for it says so.

What was sealed after the backup is gone from this database, while the file of checkpoints, the witnesses and the mails
know that it was there. Nothing makes that good, and nothing here hides it: that the ledger was taken up again, from
which size and why, is a row of the trail, and is sealed first. Witnesses go on contradicting until whoever keeps one
has read why and begun a new folder for it.
"""

from __future__ import annotations

from datetime import datetime
from pathlib import Path

from django.db import transaction

from clinic.audit import trail
from clinic.errors import Invalid
from clinic.ledger import keys, memory, trust
from clinic.ledger.proofs import newest_size
from clinic.ledger.seal import Sealed, one_at_a_time, seal
from clinic.watch.alarms import settle


def resume(reason: str, at: datetime) -> Sealed:
    """Take the ledger up where the database stands. Refused (Invalid) where it is not older than the file of
    checkpoints, and without a reason; trust.Broken where the database does not even fit itself."""
    if not reason.strip():
        raise Invalid("Say why: which backup was restored, when, and on whose word.")
    with transaction.atomic(durable=True):
        one_at_a_time()
        back = _fault()
        if back is None:
            raise Invalid("The ledger stands where it was left: there is nothing to take up again.")
        kept = _put_aside()
        trust.standing(keys.ring())
        detail = {"reason": reason.strip()[:400], "size": newest_size(), "kept": kept.name}
        trail.record(None, "ledger.resumed", "ledger", keys.ring().origin[:80], at=at, detail=detail)
        settle(f"ledger.broken:{back.key}", actor=None, at=at, text=f"Taken up again: {reason.strip()}")
    return seal(at)


def _fault() -> trust.Broken | None:
    """That the database is older than the file, where that is what is wrong."""
    try:
        trust.standing(keys.ring())
    except trust.Broken as fault:
        if not fault.key.startswith(trust.BACK):
            raise
        return fault
    return None


def _put_aside() -> Path:
    """The file of checkpoints under another name: it is evidence, and stays."""
    place = memory.path()
    for count in range(1, 10_000):
        kept = place.with_name(f"{place.name}.{count}")
        if not kept.exists():
            place.replace(kept)
            return kept
    raise Invalid(f"There are too many files like {place}: move the old ones elsewhere.")
