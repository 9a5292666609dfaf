"""A sealed ledger with signatures in it, and the bundles that come of it."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

from caseload.models import Episode
from checklists.proof.services import export_proof
from clinic.audit import trail
from clinic.ledger import keys, proofs
from clinic.ledger.note import Signer
from clinic.ledger.seal import seal
from clinic.staff.models import Staff
from tests.makers import an_attempt, now, recorded
from tests.proof.bundles import Files, files_in
from tests.services.test_signoff import a_proven_skill, signed, withdrawn

NOTE = "Quietly <b>done</b> & 'well' \"so\" · 😀 ﬁ"


@dataclass(frozen=True)
class World:
    """An episode with one signed skill; everything sealed, in three runs."""

    signer: Staff
    episode: Episode
    sign_off: str
    first: str  # the checkpoint before the signature


@dataclass(frozen=True)
class Made:
    """Good bundles as files, with what somebody outside has kept, and the private key that a thief could have."""

    sign_off: Files
    episode: Files
    withdrawn: Files
    unsealed: Files
    fingerprint: str
    kept: str  # a checkpoint with which the bundles were made comparable
    later: str  # a checkpoint of the ledger after these bundles
    stolen: Signer
    reference: str


def a_world() -> World:
    signer, episode = a_proven_skill()
    trail.record(signer, "test.done", "episode", episode.reference, at=now(), episode=episode.pk)
    seal(now())
    first = newest_note()
    done = signed(signer, episode)
    seal(now())
    recorded(signer, episode, an_attempt("sit_stand", "bars_both", measures={}, note=NOTE))
    seal(now())
    return World(signer, episode, str(done.entry), first)


def make(folder: Path) -> Made:
    world = a_world()
    reference = world.episode.reference
    sign_off = exported(world.sign_off, world.first)
    episode = exported(reference, world.first)
    withdrawn(world.signer, world.episode)
    unsealed = exported(reference, world.first)
    seal(now())
    private = Ed25519PrivateKey.from_private_bytes(bytes.fromhex((folder / "seal" / "1.key").read_text()))
    ring = keys.ring()
    return Made(
        sign_off=sign_off,
        episode=episode,
        withdrawn=exported(world.sign_off, world.first),
        unsealed=unsealed,
        fingerprint=ring.keys[0].fingerprint,
        kept=world.first,
        later=newest_note(),
        stolen=Signer(ring.origin, private),
        reference=reference,
    )


def exported(reference: str, *notes: str) -> Files:
    return files_in(export_proof(actor=None, reference=reference, notes=notes).content)


def newest_note() -> str:
    newest = proofs.newest()
    assert newest is not None
    return newest.note
