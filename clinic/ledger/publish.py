"""Checkpoints leave the machine: what the database's superuser could rewrite here, others have as it was.

The file comes first, by the sealer itself (memory.py). Everybody else is told through the outbox: at once the witnesses
(each with a row of its own, so that one that is down holds up none), and the time-stamping authority; once a day the
records officers, by e-mail. Only the newest checkpoint is sent: it stands for all before it.
"""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

from django.conf import settings

from clinic.ledger import keys, note, proofs, stamps, witness
from clinic.ledger.models import Checkpoint
from clinic.outbox.post import publish
from clinic.watch.alarms import raise_alarm, settle
from clinic.watch.beats import beat
from clinic.watch.models import Beat

Payload = Mapping[str, Any]
SILENT_AFTER = timedelta(hours=24)  # a witness that takes nothing for so long is an alarm: common practice, no source


def send_on(payload: Payload, at: datetime) -> None:
    """Tell everybody who is configured of a new checkpoint, unless there is a newer one by now."""
    number = int(payload["checkpoint"])
    if not _is_newest(number):
        return
    for address in settings.LEDGER_WITNESSES:
        _post("checkpoint.witnessed", f"{number}:{address}", {"checkpoint": number, "witness": address}, at)
    if settings.LEDGER_TSA:
        _post("checkpoint.stamped", str(at.date()), {"checkpoint": number}, at)


def tell_witness(payload: Payload, at: datetime) -> None:
    """Give a witness the checkpoint, with the proof that it continues the one that the witness has.

    No answer: WitnessError, so that the outbox tries again. A contradiction: an alarm, and nothing more is sent.
    """
    address, row = str(payload["witness"]), proofs.newest()
    if row is None or row.pk != int(payload["checkpoint"]):
        return  # the newer one has a row of its own
    try:
        _give(address, row)
    except witness.Contradiction as fault:
        _contradicted(address, str(fault), at)
    except witness.NotTaken as fault:
        text = f"{fault} The witness does not take this ledger's checkpoints: see to its key ring."
        raise_alarm("ledger.not_witnessed", text, at=at, key=f"ledger.not_witnessed:{address}"[:200])
    except witness.WitnessError:
        _silent(address, at)
        raise
    else:
        beat(_heard(address), at)
        settle(f"ledger.not_witnessed:{address}"[:200], actor=None, at=at, text="The witness has taken a checkpoint.")


def send_ring(payload: Payload, at: datetime) -> None:
    """Give a witness the ring after a rotation or a closing."""
    try:
        witness.send_ring(str(payload["witness"]), keys.ring().dump())
    except witness.Contradiction as fault:
        _contradicted(str(payload["witness"]), str(fault), at)


def stamp(payload: Payload, at: datetime) -> None:
    """Have the day's checkpoint stamped by the authority after RFC 3161. No good answer: NotStamped, to be tried
    again."""
    row = Checkpoint.objects.get(pk=payload["checkpoint"])
    roots = Path(settings.LEDGER_TSA_ROOTS).read_bytes()
    stamps.keep(Path(settings.LEDGER_STAMPS), row.size, stamps.stamped(settings.LEDGER_TSA, row.note.encode(), roots))


def _give(address: str, row: Checkpoint) -> None:
    text = witness.latest(address)
    try:
        _send(address, row, text)
    except witness.NotTaken:
        witness.send_ring(address, keys.ring().dump())  # it may not know of a new key, or of a closing
        _send(address, row, text)


def _send(address: str, row: Checkpoint, text: str) -> None:
    if not text:
        witness.post(address, row.note)
        return
    try:
        known = note.opened(text, keys.ring())
    except note.NotGenuine as fault:
        raise witness.Contradiction(f"{address} has what this ledger's keys did not sign: {fault}") from None
    if known.size > row.size:
        if known.size <= proofs.newest_size():
            return  # the newer one was quicker
        signed = known.at.isoformat(timespec="seconds")
        raise witness.Contradiction(f"{address} has {known.size} leaves, signed at {signed}; here are only {row.size}.")
    path = proofs.consistency(known.size, row.size).path if known.size else ()
    witness.post(address, row.note, witness.Proof(known.size, path))


def _contradicted(address: str, fault: str, at: datetime) -> None:
    """Somebody's ledger is not what it was: ours, since the witness only compares."""
    text = f"A witness contradicts this ledger. {fault} Read 'a witness contradicts' in the clinic's guide."
    raise_alarm("ledger.contradicted", text, at=at, key=f"ledger.contradicted:{address}"[:200])


def _silent(address: str, at: datetime) -> None:
    """A witness does not answer. Nobody is told for the first day, counted from when it was first or last heard of."""
    name = _heard(address)
    last = Beat.objects.filter(name=name).values_list("at", flat=True).first()
    if last is None:
        beat(name, at)
    elif at - last > SILENT_AFTER:
        text = f"The witness at {address} has taken no checkpoint since {last.isoformat(timespec='minutes')}."
        raise_alarm("ledger.not_witnessed", text, at=at, key=f"ledger.not_witnessed:{address}"[:200])


def _heard(address: str) -> str:
    """The name of a witness's sign of life."""
    return f"witness {address}"[:40]


def _is_newest(number: int) -> bool:
    row = proofs.newest()
    return row is not None and row.pk == number


def _post(topic: str, key: str, payload: dict[str, object], at: datetime) -> None:
    publish(topic, payload, at=at, dedupe_key=f"{topic}:{key}"[:200])
