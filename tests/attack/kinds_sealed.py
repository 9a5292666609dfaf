"""Tampering with the tables of the ledger, and making other ledgers with stolen keys."""

from __future__ import annotations

import random

from checklists.record.leaf import ENTRY
from clinic.audit.leaf import TRAIL
from clinic.ledger import keys
from clinic.ledger.merkle import Edge
from tests.attack.hands import a_sealed, checkpoint, did, reseal, restamp, rows
from tests.attack.kinds import delete, set_one
from tests.attack.listed import attack, needs_a_witness
from tests.attack.world import World


# --- the tables of the ledger -----------------------------------------------------------------------------------------
@attack
def change_a_leaf(world: World, rng: random.Random) -> None:
    ((size,),) = rows("SELECT count(*) FROM clinic_ledgerleaf")
    place = rng.randrange(size)
    how = rng.choice(
        [
            "UPDATE clinic_ledgerleaf SET leaf = sha256(leaf) WHERE position = %s",
            "DELETE FROM clinic_ledgerleaf WHERE position = %s",
            "UPDATE clinic_ledgerleaf SET number = -number WHERE position = %s",
        ]
    )
    assert did(how, [place]) == 1


@attack
def change_a_row_and_its_leaf(world: World, rng: random.Random) -> None:
    """Row, stamp (with a stolen MAC key) and sealed leaf go together: the signed root does not."""
    number = set_one(ENTRY, "door", "CASE door WHEN 'page' THEN 'api' ELSE 'page' END", rng)
    restamp(ENTRY, number, mac_key=keys.mac_key())
    did(
        "UPDATE clinic_ledgerleaf l SET leaf = t.leaf FROM checklists_entry t"
        " WHERE l.source = 1 AND l.number = t.number AND t.number = %s",
        [number],
    )


@attack
def add_a_leaf(world: World, rng: random.Random) -> None:
    did(
        "INSERT INTO clinic_ledgerleaf (position, source, number, leaf) SELECT max(position) + 1, 2,"
        " 1 + (SELECT max(number) FROM clinic_trailrow), sha256('') FROM clinic_ledgerleaf"
    )


@attack
def change_a_node(world: World, rng: random.Random) -> None:
    how = rng.choice(["UPDATE clinic_ledgernode SET hash = sha256(hash)", "DELETE FROM clinic_ledgernode"])
    assert did(how) > 0


@attack
def change_a_checkpoint(world: World, rng: random.Random) -> None:
    ((number,),) = rows("SELECT number FROM clinic_checkpoint ORDER BY random() LIMIT 1")
    to = rng.choice(
        [
            "root = sha256(root)",
            "size = size + 1",
            "at = at + interval '1 second'",
            "edge = edge || edge",
            "note = replace(note, '+', '/') || ' '",
        ]
    )
    assert did(f"UPDATE clinic_checkpoint SET {to} WHERE number = %s", [number]) == 1


@attack
def forge_a_checkpoint_with_a_closed_key(world: World, rng: random.Random) -> None:
    edge = Edge.load(bytes(rows("SELECT edge FROM clinic_checkpoint ORDER BY number DESC LIMIT 1")[0][0]))
    checkpoint(edge, [world.old_seal_key])


@attack
def seal_anew_with_a_closed_key(world: World, rng: random.Random) -> None:
    set_one(ENTRY, "at", f"at - interval '{rng.randint(1, 60)} minutes'", rng)
    reseal([world.old_seal_key], mac_key=rng.choice([None, keys.mac_key()]))


# --- only a checkpoint from elsewhere betrays these -------------------------------------------------------------------
@needs_a_witness
def seal_anew_with_all_keys(world: World, rng: random.Random) -> None:
    """Both keys that count are stolen, a row is changed, and everything is sealed anew."""
    column = rng.choice(["at", "received_at"])
    set_one(ENTRY, column, f"{column} - interval '{rng.randint(1, 60)} minutes'", rng)
    reseal(keys.signers(keys.ring()), mac_key=keys.mac_key())


@needs_a_witness
def seal_anew_without_a_row(world: World, rng: random.Random) -> None:
    """The same with a row taken away."""
    delete(TRAIL, "number = %s", [a_sealed(TRAIL, rng, "AND t.verb = 'test.done'")])
    reseal(keys.signers(keys.ring()), mac_key=keys.mac_key())


@needs_a_witness
def roll_back(world: World, rng: random.Random) -> None:
    """The whole database as it was at an earlier checkpoint: nothing in it is wrong, it is only old."""
    size = rng.choice(world.sizes[:-1])
    for source in (ENTRY, TRAIL):
        later = f"number NOT IN (SELECT number FROM clinic_ledgerleaf WHERE source = {source.code} AND position < %s)"
        delete(source, later, [size])
    did("DELETE FROM clinic_ledgerleaf WHERE position >= %s", [size])
    did("DELETE FROM clinic_checkpoint WHERE size > %s", [size])
    did("DELETE FROM clinic_ledgernode WHERE (index + 1) << level > %s", [size])
    did("DELETE FROM clinic_ledgergap")


@needs_a_witness
def delete_the_newest_with_its_seal(world: World, rng: random.Random) -> None:
    """What was sealed last goes, with leaves and checkpoint."""
    roll_back(world, random.Random(len(world.sizes)))
