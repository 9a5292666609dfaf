"""A ledger to attack: records, signatures, an erasure, several sealings, a key that was rotated and closed, and rows
that are not sealed yet."""

from __future__ import annotations

import shutil
from dataclasses import dataclass
from pathlib import Path

from checklists.keeping.erasing import confirm_erasure
from checklists.signoff.services import readiness, sign_off, withdraw_sign_off
from clinic import clock
from clinic.audit import trail
from clinic.ledger import keys, memory
from clinic.ledger.note import Signer
from clinic.ledger.rotation import close, rotate
from clinic.ledger.seal import seal
from tests.makers import a_lead, a_proof, a_therapist, ago, an_attempt, an_entry, an_episode, recorded
from tests.services.erasure_scene import a_signed_episode, asked

SKILL = "don_check"
FILLING = 300  # rows of the trail, so that nodes are stored


@dataclass(frozen=True)
class World:
    """What the attacker may have stolen, and what others know. `witness`: a note file that was carried elsewhere."""

    old_seal_key: Signer
    witness: Path
    sizes: tuple[int, ...]


def built(folder: Path) -> World:
    """Live through it."""
    therapist = a_therapist()
    for _ in range(4):
        episode = an_episode(assigned_to=therapist)
        for days in (2, 1, 1):
            recorded(therapist, episode, an_attempt(SKILL, "none", help="watching", at=ago(days=days)))
        digest = readiness(actor=therapist, episode_id=episode.pk, skill=SKILL).digest
        proof = a_proof(therapist)
        sign_off(actor=therapist, episode_id=episode.pk, skill=SKILL, digest=digest, proof=proof)
        recorded(therapist, episode, an_entry("session_opened"), an_attempt(at=ago(minutes=3)))
    seal(clock.now())
    lead, wanted = a_lead(), asked(a_signed_episode())
    confirm_erasure(actor=lead, erasure_id=wanted.pk, proof=a_proof(lead))
    withdraw_sign_off(
        actor=therapist, episode_id=episode.pk, skill=SKILL, reason="Skin broke down.", proof=a_proof(therapist)
    )
    for _ in range(FILLING):
        trail.record(therapist, "test.done", "test", "1", at=clock.now(), detail={"page": "made to be many"})
    sizes = [seal(clock.now()).size]
    old = keys.signers(keys.ring())[0]
    rotate(clock.now())
    recorded(therapist, episode, an_attempt(at=ago(minutes=2)))
    sizes.append(seal(clock.now()).size)
    close(clock.now(), at_once=True)
    recorded(therapist, episode, an_attempt(at=ago(minutes=1)), an_attempt(at=ago(minutes=1)))
    sizes.append(seal(clock.now()).size)
    witness = folder / "witness.txt"
    shutil.copy(memory.path(), witness)
    recorded(therapist, episode, an_attempt())
    return World(old, witness, tuple(sizes))
